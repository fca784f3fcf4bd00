"""A screen with a picture and a page: side by side in landscape, one above the other in portrait."""

from collections.abc import Callable

import cv2
import numpy as np
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from evidence_app.language import say
from evidence_app.photo.intake import decode
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Page, Plate
from evidence_app.tablet.widgets.picture import PhotoPane
from evidence_app.tablet.widgets.sizes import sizes

_LEAST_SIDE = 230  # dp
_MOST_SIDE = 0.5
_LARGE = 2_000_000  # bytes


class PictureScreen(BaseScreen):
    def put_beside(self, picture: Widget, share: float, below: float) -> None:
        """``picture`` where the page stood, and ``side`` beside it with ``share`` of the width, or
        more where whole words need it; where that is too much, under it, ``below`` times as high."""
        self.side, self._share, self._below = Page(), share, below
        self._split = BoxLayout()
        self._split.add_widget(picture)
        self._split.add_widget(self.side)
        # What a kv rule names is only held weakly, so the page is held while it stands nowhere.
        self._held = self.page.__self__
        self.column.remove_widget(self._held)
        self.column.add_widget(self._split, index=1)
        self._split.bind(size=lambda *_: self._lay_out())

    @property
    def scroll(self) -> Page:
        return self.side

    def turn(self) -> None:
        """Begin at the top; the text size may be another than it was."""
        self.side.scroll_y = 1
        self._lay_out()

    def load(self, pane: PhotoPane, sha256: str, reduced: bool = False) -> None:
        """Show an original or a drawing on ``pane`` as soon as it is decoded; ``reduced``: a
        large one at half its size, to be looked at whole or a little closer."""
        self.make(lambda: self.decoded(sha256, reduced), pane.show)

    def make(self, work: Callable, show: Callable) -> None:
        """Do ``work`` beside the screen, and ``show`` what came of it unless the screen was left."""
        visit = self.frame.visit

        def done(made) -> None:
            if self.frame.visit == visit:
                show(made)

        self.place.worker.run(work, done, self.place.refused, thread="camera")

    def decoded(self, sha256: str, reduced: bool = False):
        """(H, W, 3) uint8 BGR of an original or a drawing of the job."""
        data = self.job.record.path_of(sha256).read_bytes()
        if data[:4] == b"\x89PNG":
            return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        return decode(data, 2 if reduced and len(data) > _LARGE else 1)

    def zoom_plates(self, pane: PhotoPane) -> tuple[Plate, Plate]:
        return (
            plate(say("Zoom in"), "closer", pane.closer, mark="closer"),
            plate(say("Fit to screen"), "whole", pane.whole, mark="whole"),
        )

    def _lay_out(self) -> None:
        split = self._split
        width = max(self._share * split.width, dp(_LEAST_SIDE) * sizes.percent / 100)
        wide = split.width > split.height * 1.2 and width <= _MOST_SIDE * split.width
        split.orientation = "horizontal" if wide else "vertical"
        self.side.size_hint = (None, 1) if wide else (1, self._below)
        if wide:
            self.side.width = width
