"""One reading of the clock for one command.

What a rule decides by (how long was held, whether five seconds are over) and
what the journal then shows must be the same instant: a hold that was 9.9995 s
when it was judged must not read 10.0001 s in the record.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from evidence_app.record.clock import Clock
from evidence_app.record.event import Instant


class ReadingOnce:
    """A clock that stands at one reading within ``with clock.stopped()``.

    Used under the guide's lock by one thread at a time.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._reading: Instant | None = None

    def now(self) -> Instant:
        return self._reading or self._clock.now()

    @contextmanager
    def stopped(self) -> Iterator[Instant]:
        self._reading = self._clock.now()
        try:
            yield self._reading
        finally:
            self._reading = None
