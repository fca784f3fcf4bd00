"""Keeps the second touch of a bouncing glove from doing the next thing.

A place on the screen has a meaning: what the plate there says and does, on which screen, about
what. When that changes, and after each press, the place takes no touch for ``GUARD_S``; a touch
that began before the change does nothing, and one that comes too early begins the time anew.
While the job carries out a command no place takes any, since its meaning is about to change.
"""

import time
from collections.abc import Callable

from kivy.uix.scrollview import ScrollView

from evidence_app.tablet.widgets import Plate
from evidence_app.tablet.widgets.sizes import GUARD_S


class BounceGuard:
    """``clock`` gives seconds that never run back; ``waits`` whether a command is under way;
    ``refused`` is told of a plate that was touched too soon."""

    def __init__(
        self,
        meanings: Callable[[], dict[Plate, tuple]],
        waits: Callable[[], bool],
        refused: Callable[[Plate], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._meanings, self._waits, self.clock = meanings, waits, clock
        self._refused = refused
        self._since: dict[tuple, float] = {}

    def look(self) -> None:
        """See what every place means now; the plates that do not take a touch show it."""
        now = self.clock()
        since = {}
        for plate, meaning in self._meanings().items():
            key = (*meaning, plate.action, plate.text, *_place(plate))
            since[key] = self._since.get(key, now)
            plate.guard, plate.meaning = self, key
            plate.ready = min(1.0, (now - since[key]) / GUARD_S)
        self._since = since

    def takes(self, plate: Plate, began: float) -> bool:
        """Whether a touch of ``plate`` that began at ``began`` counts."""
        self.look()
        since = self._since.get(plate.meaning)
        taken = since is not None and began - since >= GUARD_S and not self._waits()
        if not taken and since is not None:
            self.begin(plate)
            self._refused(plate)
        return taken

    def begin(self, plate: Plate) -> None:
        """Its place takes no touch from now on."""
        if plate.meaning in self._since:
            self._since[plate.meaning] = self.clock()


def _place(plate: Plate) -> tuple[int, ...]:
    """Where it stands; how far a page is scrolled plays no part."""
    parent = plate.parent
    while parent is not None and parent.parent is not parent:
        if isinstance(parent, ScrollView):
            top = parent.to_window(parent.x, parent.top)[1]
            return round(plate.x), round(top), round(parent.children[0].top - plate.y)
        parent = parent.parent
    return tuple(round(x) for x in plate.to_window(*plate.pos))
