"""Where and why repairs stop: the chart, the reasons, the table, and their export."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from kivy.metrics import dp
from kivy.uix.image import Image

from evidence_app.language import say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.presenting.stops import (
    GROUPINGS,
    headings,
    no_judgement,
    picture_labels,
    stops_shown,
)
from evidence_app.tablet.desk.widgets import panel, table, texture_of
from evidence_app.tablet.presenting.notices import DISMISS, Notice
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import ActionRow, Page, Plate, Words, fill
from evidence_app.tablet.widgets.sizes import sizes

_TABLE_FROM = 900
_PICTURE_IN = 7.5  # narrower than on paper, so that its letters can be read here


class StopsScreen(DeskBase):
    """``_counted`` is None until the register was counted."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._by, self._what, self._hidden = "week", "", True

    def enter(self) -> None:
        super().enter()
        self._counted, self._picture = None, None
        self._count()

    def show(self) -> None:
        if not self.differs(
            self._counted, self._by, self._what, self._hidden, self._picture is None
        ):
            return
        self.page.refill(
            [
                Words(text=say("Where repairs stop"), role="title"),
                Words(text=no_judgement(), tone="haze"),
                self._groupings(),
                *self._found(),
            ]
        )
        counted = self._counted is not None
        self.fill_row(
            plate(say("Back"), "back", lambda: self.frame.go("desk"), mark="back"),
            plate(say("Save table and pictures"), "export", self._export, "main")
            if counted
            else None,
        )

    def _groupings(self) -> ActionRow:
        made = ActionRow(padding=[0, 0])
        chosen = [
            Plate(
                text=say(words),
                action=f"by {name}",
                mark="done" if name == self._by else "owed",
                kind="plain" if name == self._by else "row",
                call=lambda name=name: self._group(name),
            )
            for name, words in GROUPINGS.items()
        ]
        names = Plate(
            text=say("Names are hidden") if self._hidden else say("Names are shown"),
            action="names",
            mark="rule",
            call=self._names,
        )
        fill(made, [*chosen, names])
        return made

    def _found(self):
        if self._counted is None:
            yield Words(text=say("Counting …"))
            return
        shown = stops_shown(self._counted)
        yield Words(text=shown.head, role="lead")
        for text in shown.left_out:
            yield Words(text=text, role="small")
        if not shown.groups:
            return
        if self._picture is not None:
            height, width = self._picture.shape[:2]
            room = max(dp(300), self.frame.width - dp(80))
            yield Image(
                texture=texture_of(self._picture),
                size_hint_y=None,
                height=min(room * height / width, dp(900)),
                fit_mode="contain",
            )
        made = panel(say("Groups"))
        tones = ["clay" if group.remarkable else "chalk" for group in shown.groups]
        if self.frame.width >= dp(_TABLE_FROM) * sizes.percent / 100:
            made.add_widget(table(headings(), [g.cells for g in shown.groups], tones))
        else:
            for group, tone in zip(shown.groups, tones, strict=True):
                lines = [
                    f"{name}: {cell}"
                    for name, cell in zip(headings(), group.cells, strict=True)
                    if cell
                ]
                made.add_widget(Words(text="\n".join(lines), tone=tone))
        yield made
        yield panel(say("Reasons, most frequent first"), *(shown.reasons or (say("none"),)))

    @property
    def scroll(self) -> Page:
        return self.page

    # --- counting -------------------------------------------------------------------------

    def _group(self, name: str) -> None:
        asked = {
            "device-batch": say(
                "How many first characters of the serial number name the device's batch?"
            ),
            "part-batch": say("Which reading names the part's batch?"),
        }.get(name)
        if asked is None:
            self._set(name, "")
            return
        self.ask(
            asked,
            lambda text: self._set(name, text),
            "desk-stops",
            main=say("Count"),
            given="6" if name == "device-batch" else "",
        )

    def _set(self, name: str, what: str) -> None:
        self._by, self._what = name, what
        self._count()

    def _names(self) -> None:
        self._hidden = not self._hidden
        self._count()

    def _count(self) -> None:
        self._counted, self._picture = None, None
        register = self.desk.register
        by = f"{self._by}:{self._what}" if self._what else self._by
        hidden = self._hidden
        self.place.worker.run(lambda: _counted(register, by, hidden), self._done, self._failed)
        self.show()

    def _done(self, found) -> None:
        self._counted, self._picture = found
        self.show()

    def _failed(self, error) -> None:
        if self.desk.register.path.exists():
            self._by, self._what = "week", ""
            self.place.refused(error)
            return
        from evidence_app.desk.stopped.counts import Stops
        from evidence_app.desk.stopped.proportions import p_chart

        # Before the first package there is no register, and nothing to count.
        self._done((Stops(self._by, p_chart([]), (), ()), None))

    def _export(self) -> None:
        folder, counted = self.place.settings.packages().parent / "desk", self._counted

        def done(paths) -> None:
            self.place.tell(
                Notice(
                    "exported",
                    say("Written: {paths}", paths=", ".join(str(path) for path in paths)),
                    (DISMISS, say("Understood")),
                )
            )

        self.place.worker.run(lambda: _written(counted, folder), done, self.place.refused)


def _counted(register, by: str, hidden: bool):
    import io

    import cv2
    import numpy as np

    from evidence_app.desk.stopped.counts import count_stops
    from evidence_app.desk.stopped.picture import save

    stops = count_stops(register, by, hide_names=hidden)
    if not stops.chart.points:
        return stops, None
    file = io.BytesIO()
    save(stops, file, "png", picture_labels(stops), _PICTURE_IN)
    return stops, cv2.imdecode(np.frombuffer(file.getvalue(), np.uint8), cv2.IMREAD_COLOR)


def _written(stops, folder: Path) -> list[Path]:
    """Raises EvidenceError when a file cannot be written; none that is there is replaced."""
    from evidence_app.desk.stopped.counts import as_csv, draw
    from evidence_app.package.durable import write_durably

    folder.mkdir(parents=True, exist_ok=True)
    name = f"stops-by-{stops.by.replace(':', '-')}-{datetime.now():%Y%m%d-%H%M%S}"
    name = "".join(x if x.isalnum() or x == "-" else "-" for x in name)
    paths = [folder / f"{name}.{end}" for end in ("csv", "png", "svg")]
    write_durably(paths[0], as_csv(stops))
    for path in paths[1:]:
        draw(stops, path)
    return paths
