"""A photo of the stop, large, beside the clean reference or an earlier photo."""

from __future__ import annotations

from kivy.uix.boxlayout import BoxLayout

from evidence_app.language import say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.presenting.stopped import stopped_of
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import Words
from evidence_app.tablet.widgets.picture import PhotoPane

_LARGE_PX = 2400


class StopPhotoScreen(DeskBase):
    """``_beside`` is the place of what the photo is held against; None: it stands alone."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self.page.size_hint_y = None
        self._panes = BoxLayout(spacing=8)
        self.pane, self.other = PhotoPane(), PhotoPane()
        box = BoxLayout(orientation="vertical")
        self.put_for_page(box)
        box.add_widget(self.page)
        box.add_widget(self._panes)
        self.page.rows.bind(height=self._fit)
        self._panes.bind(size=self._turn)

    def enter(self, at: int = 0) -> None:
        super().enter()
        self._picture = stopped_of(self.desk.review).pictures[at]
        self._beside = 0 if self._picture.beside else None
        self._load()

    def show(self) -> None:
        picture = self._picture
        if not self.differs(picture, self._beside):
            return
        panes = [self.pane] if self._beside is None else [self.pane, self.other]
        if self._panes.children[::-1] != panes:
            self._panes.clear_widgets()
            for pane in panes:
                self._panes.add_widget(pane)
        words = f"{picture.title}. {picture.words}"
        if self._beside is not None:
            words += "  ·  " + say("Right: {what}", what=picture.beside[self._beside][0])
        self.page.refill([Words(text=words, role="small")])
        others = [(n, name) for n, (name, _) in enumerate(picture.beside) if n != self._beside]
        self.fill_row(
            plate(say("Back"), "back", lambda: self.frame.go("desk-review"), mark="back"),
            plate(say("Closer"), "closer", lambda: self._both("closer")),
            plate(say("Whole picture"), "whole", lambda: self._both("whole")),
            *(plate(name, f"beside {n}", lambda n=n: self._hold_against(n)) for n, name in others),
            plate(say("This photo alone"), "alone", lambda: self._hold_against(None))
            if self._beside is not None
            else None,
        )

    def _fit(self, *_) -> None:
        self.page.height = min(self.page.rows.height, self.height * 0.3)

    def _turn(self, *_) -> None:
        wide = self._panes.width > self._panes.height
        self._panes.orientation = "horizontal" if wide else "vertical"

    def _both(self, what: str) -> None:
        for pane in self._panes.children:
            getattr(pane, what)()

    def _hold_against(self, beside: int | None) -> None:
        self._beside = beside
        self._load()
        self.show()

    def _load(self) -> None:
        review, picture = self.desk.review, self._picture
        wanted = [(self.pane, picture.path)]
        if self._beside is not None:
            wanted.append((self.other, picture.beside[self._beside][1]))
        for pane, path in wanted:
            if path is not None:
                self.place.worker.run(
                    lambda path=path: _large(review, path), pane.show, self.place.refused
                )


def _large(review, path: str):
    from evidence_app.desk.photos.hash import small_picture
    from evidence_app.desk.review import photo_of

    return small_picture(photo_of(review, path), _LARGE_PX, path)
