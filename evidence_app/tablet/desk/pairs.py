"""Photos reused: both photos side by side, with the frame of what was matched."""

from __future__ import annotations

from kivy.uix.boxlayout import BoxLayout

from evidence_app.language import say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.presenting.from_below import told
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import Panel, Words
from evidence_app.tablet.widgets.picture import PhotoPane


class PairsScreen(DeskBase):
    """``_pairs`` is None until the pictures were made."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._box = BoxLayout(orientation="vertical")
        self.pane = PhotoPane()
        self.page.size_hint_y = 0.42
        self.put_for_page(self._box)
        self._box.add_widget(self.page)
        self._box.add_widget(self.pane)

    def enter(self) -> None:
        super().enter()
        self._pairs, self._at = None, 0
        register, package = self.desk.register, self.desk.opened.entry.package["id"]
        self.place.worker.run(lambda: _pairs(register, package), self._made, self.place.refused)

    def show(self) -> None:
        if not self.differs(self._pairs is None, self._at):
            return
        if not self._pairs:
            words = (
                say("Laying the photos side by side …")
                if self._pairs is None
                else say("No photo of this package resembles an earlier one.")
            )
            self.page.refill([Words(text=say("Reused photos"), role="title"), Words(text=words)])
            self.fill_row(self._back())
            return
        row, picture = self._pairs[self._at]
        before = row["verdict"] in ("same-file", "same-picture")
        made = Panel(border="clay" if before else "haze")
        made.add_widget(
            Words(
                text=say(
                    "{number} of {count}: {path}",
                    number=self._at + 1,
                    count=len(self._pairs),
                    path=row["path"],
                ),
                tone="brass",
            )
        )
        made.add_widget(Words(text=told(row["sentence"]), tone="clay" if before else "chalk"))
        made.add_widget(
            Words(
                text=say(
                    "Left: package {number}, claim {claim}, serial {serial}. Right: this "
                    "package. The frame on the left is what the right one shows.",
                    number=row["earlier_package"],
                    claim=row["earlier_claim"] or "–",
                    serial=row["earlier_serial"] or "–",
                )
                if picture is not None
                else say("One of the two packages is not there any more, so there is no picture."),
                role="small",
            )
        )
        self.page.refill([made])
        if picture is not None:
            self.pane.show(picture)
        self.pane.opacity = 1 if picture is not None else 0
        self.fill_row(
            self._back(),
            plate(say("Closer"), "closer", self.pane.closer),
            plate(say("Whole picture"), "whole", self.pane.whole),
            plate(say("Next pair"), "next", lambda: self._turn(1))
            if self._at + 1 < len(self._pairs)
            else None,
            plate(say("Previous pair"), "previous", lambda: self._turn(-1)) if self._at else None,
        )

    def _back(self):
        return plate(say("Back"), "back", lambda: self.frame.go("desk-package"), mark="back")

    def _turn(self, by: int) -> None:
        self._at += by
        self.show()

    def _made(self, made) -> None:
        self._pairs = made
        self.show()


def _pairs(register, package: int):
    import cv2
    import numpy as np

    from evidence_app.desk.photos.pairs import pairs_of

    return [
        (
            row,
            None if data is None else cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR),
        )
        for row, data in pairs_of(register, package)
    ]
