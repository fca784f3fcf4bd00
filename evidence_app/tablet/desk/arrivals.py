"""Arrivals: packages, folders and disks chosen or dropped, and what became of each."""

from __future__ import annotations

import os
from pathlib import Path

from kivy.clock import Clock
from kivy.core.window import Window

from evidence_app.language import language, say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.presenting.arrivals import progress_of
from evidence_app.tablet.desk.widgets import ProgressPanel
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import Panel, Plate, Words

_MOST = 30


class ArrivalsScreen(DeskBase):
    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._dropped: list[Path] = []
        self._plates: tuple = (None, [])
        self._drop = Clock.create_trigger(lambda _: self._take_dropped(), 0.05)

    def enter(self) -> None:
        super().enter()
        Window.bind(on_drop_file=self._on_drop)

    def leave(self) -> None:
        super().leave()
        Window.unbind(on_drop_file=self._on_drop)

    def show(self) -> None:
        desk, checking = self.desk, self.desk.checking
        if not self.differs(tuple(desk.arrivals), checking is None, desk.settings):
            if checking is not None:
                self._running.display(progress_of(checking))
            return
        widgets = [Words(text=say("Arrivals"), role="title")]
        if checking is not None:
            self._running = ProgressPanel(progress_of(checking))
            widgets.append(self._running)
        if not desk.arrivals and checking is None:
            empty = Panel(border="edge")
            empty.add_widget(
                Words(
                    text=say("Drop packages, a folder or a disk on this window, or choose them."),
                    role="lead",
                )
            )
            empty.add_widget(
                Words(
                    text=say(
                        "Each is checked and entered in the register once. A package is never changed."
                    )
                )
            )
            widgets.append(empty)
        widgets += [self._arrival(at, arrival) for at, arrival in enumerate(desk.arrivals[:_MOST])]
        if len(desk.arrivals) > _MOST:
            widgets.append(Words(text=say("Earlier ones are found with the search.")))
        self.page.refill(widgets)
        self.fill_row(*self._row_plates(checking is not None))

    def _row_plates(self, busy: bool) -> list[Plate]:
        """The same plates as long as they say the same: while packages come in one after the
        other, the plate under a finger must not be exchanged for its like."""
        key = (busy, language())
        if self._plates[0] != key:
            self._plates = (key, self._make_plates(busy))
        return self._plates[1]

    def _make_plates(self, busy: bool) -> list[Plate]:
        search = plate(say("Search"), "search", lambda: self.frame.go("desk-search"))
        if busy:
            return [plate(say("Cancel"), "cancel", self.desk.cancel, "stop"), search]
        made = [
            plate(say("Choose packages"), "choose", lambda: self.frame.go("desk-choose"), "main"),
            search,
            plate(say("Where repairs stop"), "stops", lambda: self.frame.go("desk-stops")),
            plate(
                say("Desk settings"),
                "desk-settings",
                lambda: self.frame.go("desk-settings"),
                mark="rule",
            ),
        ]
        if self.frame.first == "start":
            made.append(
                plate(say("To the tablet"), "back", lambda: self.frame.go("start"), mark="back")
            )
        return made

    def _arrival(self, at: int, arrival) -> Plate:
        words = "\n".join((arrival.name, arrival.state, *arrival.words))
        return Plate(
            text=words,
            kind="plain",
            mark="done" if arrival.good else "open",
            action=f"arrival {at}",
            disabled=arrival.package is None,
            call=lambda: self.desk.open(arrival.package, lambda: self.frame.go("desk-package")),
        )

    def _on_drop(self, _window, name: bytes, *_) -> None:
        # Several files dropped together come one after the other.
        self._dropped.append(Path(os.fsdecode(name)))
        self._drop()

    def _take_dropped(self) -> None:
        dropped, self._dropped = self._dropped, []
        if dropped:
            self.desk.take_in(dropped)
