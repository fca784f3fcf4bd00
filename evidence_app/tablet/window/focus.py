"""Keys: a ring goes from plate to plate; some keys press a plate by the name of its action."""

from kivy.metrics import dp
from kivy.uix.scrollview import ScrollView

from evidence_app.tablet.widgets import Plate

_TAB, _ENTER, _KEYPAD_ENTER, _SPACE, _ESCAPE = 9, 13, 271, 32, 27
_UP, _DOWN, _RIGHT, _LEFT = 273, 274, 275, 276

SHORTCUTS = {
    280: ("previous",),
    281: ("next",),
    283: ("shutter",),
    284: ("end-note", "start-note", "note"),
    285: ("take-back",),
    286: ("listen",),
    288: ("confirm",),
    289: ("reject",),
    290: ("stop",),
}
"""Page up, page down, F2 to F5, F7 to F9: keys that a case or a foot switch can send. Of
several actions the first that is there is meant."""


_PAGES = {280: 1, 281: -1}
"""Page up and page down read on where a screen has no plate for them."""


_MOVES = {_UP: (0.0, 0.25), _DOWN: (0.0, -0.25), _RIGHT: (0.25, 0.0), _LEFT: (-0.25, 0.0)}
"""With shift: how far a photo that is seen closer is moved, in parts of what is seen."""


class FocusRing:
    """At most one plate is ringed; it is scrolled into view."""

    def __init__(self, frame, window) -> None:
        self._frame = frame
        self._at: Plate | None = None
        # By methods, which the window holds weakly; a function would keep the whole app.
        window.bind(on_key_down=self._key, on_textinput=self._typed, on_touch_down=self.drop)

    @property
    def ringed(self):
        return self._at if self._at in self._frame.plates() else None

    def drop(self, *_) -> None:
        if self._at is not None:
            self._at.ringed = False
            self._at = None

    def move(self, by: int) -> None:
        plates = self._frame.plates()
        if not plates:
            return
        here = self.ringed
        place = (plates.index(here) + by) % len(plates) if here else (0 if by > 0 else -1)
        self.drop()
        at = self._at = plates[place]
        at.ringed = True
        parent = at.parent
        while parent is not None and parent.parent is not parent:
            if isinstance(parent, ScrollView):
                parent.scroll_to(at, padding=dp(12), animate=False)
                break
            parent = parent.parent

    def _key(self, _window, key, _scancode=None, text=None, modifiers=()) -> bool:
        if key in _MOVES and "shift" in modifiers:
            return self._move_picture(*_MOVES[key])
        if key == _TAB:
            self.move(-1 if "shift" in modifiers else 1)
        elif key in (_DOWN, _RIGHT):
            self.move(1)
        elif key in (_UP, _LEFT):
            self.move(-1)
        elif key in (_ENTER, _KEYPAD_ENTER):
            if self.ringed is not None:
                self._frame.press_by_key(self.ringed)
            elif hasattr(self._frame.screen, "typed"):
                self._frame.act_by_key("record")
        elif key == _SPACE and self.ringed is not None:
            self._frame.press_by_key(self.ringed)
        elif key == _ESCAPE:
            self._frame.act_by_key("back")
        elif key in SHORTCUTS:
            if not self._frame.act_by_key(*SHORTCUTS[key]) and key in _PAGES:
                self._scroll(_PAGES[key])
        elif key == 8 and hasattr(self._frame.screen, "rub_out"):
            self._frame.screen.rub_out()
        else:
            return False
        return True

    def _scroll(self, up: int) -> None:
        """Nearly a page up (1) or down (-1)."""
        page = self._frame.screen.scroll
        beyond = page.rows.height - page.height
        if beyond > 0:
            page.scroll_y = min(1.0, max(0.0, page.scroll_y + up * 0.9 * page.height / beyond))

    def _move_picture(self, right: float, up: float) -> bool:
        pane = getattr(self._frame.screen, "pane", None)
        if pane is not None:
            pane.move(right, up)
        return pane is not None

    def _typed(self, _window, text) -> bool:
        taken = getattr(self._frame.screen, "typed", None)
        if taken is None or (text == " " and self.ringed is not None):
            return False
        self.drop()
        taken(text)
        return True
