"""A practice clock whose pretended machine can be restarted."""

from __future__ import annotations

from msgspec.structs import replace

from evidence_app.practice.clock import PracticeClock
from evidence_app.record.event import Instant

_JUST_STARTED_US = 30_000_000


class RestartingClock(PracticeClock):
    restarts = 0
    _before_us = 0

    def restart(self, away_s: float = 0.0) -> None:
        """The machine goes off for ``away_s`` seconds of wall time and starts again."""
        self.advance(away_s)
        self.restarts += 1
        self._before_us = super().now().mono_us - _JUST_STARTED_US

    def now(self) -> Instant:
        now = super().now()
        boot = f"{now.boot}-restart-{self.restarts}" if self.restarts else now.boot
        return replace(now, mono_us=now.mono_us - self._before_us, boot=boot)
