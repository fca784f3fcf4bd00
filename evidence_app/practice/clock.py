"""A clock that only moves when it is told to: practice, the demo and the tests use it.

Gives the same kind of instants as the system's clock, so that a session script
gives the same journal each time, and can set the wall clock wrong on purpose.
"""

import threading
from datetime import datetime, timedelta

from evidence_app.errors import RecordError
from evidence_app.record.event import Instant
from evidence_app.sentence import sentence

# A machine is never at microsecond zero of its monotonic clock when a program runs.
_JUST_STARTED_US = 30_000_000


class PracticeClock:
    """``start_wall_rfc3339`` must carry its offset from UTC; ``boot`` names the run of the
    pretended machine. Thread-safe. Raises RecordError for a time it cannot read.
    """

    def __init__(self, start_wall_rfc3339: str, boot: str = "practice-1") -> None:
        self._lock = threading.Lock()
        self._wall = _parse(start_wall_rfc3339)
        self._mono_us = _JUST_STARTED_US
        self._boot = boot

    def now(self) -> Instant:
        with self._lock:
            return Instant(self._wall.isoformat(timespec="milliseconds"), self._mono_us, self._boot)

    def advance(self, seconds: float) -> None:
        """Time passes: both clocks move on by ``seconds`` (not negative)."""
        if seconds < 0:
            raise ValueError("time does not run backwards; use set_wall to set the clock back")
        passed_us = round(seconds * 1_000_000)
        with self._lock:
            self._mono_us += passed_us
            self._wall += timedelta(microseconds=passed_us)

    def set_wall(self, rfc3339: str) -> None:
        """Somebody sets the wall clock; the monotonic clock does not notice."""
        wall = _parse(rfc3339)
        with self._lock:
            self._wall = wall


def _parse(rfc3339: str) -> datetime:
    try:
        wall = datetime.fromisoformat(rfc3339)
    except ValueError:
        wall = None
    if wall is None or wall.tzinfo is None:
        raise RecordError(
            sentence("“{rfc3339}” is not a time with date and offset from UTC", rfc3339=rfc3339),
            where=sentence("practice clock"),
            remedy=sentence("write it like 2026-03-02T08:15:30.123+01:00"),
        )
    return wall
