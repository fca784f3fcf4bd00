"""Both clocks of the machine, and what their disagreement shows.

The wall clock can be set by anybody; the monotonic one cannot, but begins again
at each boot. Keeping both lets a reader see when the wall clock was moved.
"""

import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import Protocol

from evidence_app.record.event import Draft, Instant
from evidence_app.record.times import format_ms, parse
from evidence_app.system_calls import monotonic_ns

# A wall clock disciplined by NTP is slewed by at most 500 parts in a million (the kernel's
# limit) and stepped only when it is further off; 2 s covers reading the two clocks apart on a
# stalled machine.
STEP_TOLERANCE_S = 2.0
SLEW_TOLERANCE = 500e-6

_LINUX_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class Clock(Protocol):
    def now(self) -> Instant:
        """Read wall and monotonic time together."""


class SystemClock:
    """The machine's own clocks.

    Monotonic time is CLOCK_BOOTTIME on Linux and CLOCK_MONOTONIC on macOS (both
    go on during suspend), ``time.monotonic`` elsewhere. Where that clock stops
    during suspend, a suspend shows as a forward step of the wall clock: too much
    is reported rather than too little.
    """

    def __init__(self) -> None:
        self._boot = boot_id()

    def now(self) -> Instant:
        monotonic = monotonic_ns()
        wall = datetime.now().astimezone()
        return Instant(format_ms(wall), monotonic // 1000, self._boot)


def clock_changes(previous: Instant, now: Instant) -> list[Draft]:
    """What must be recorded before an event at ``now`` that follows one at ``previous``.

    - ``machine-restarted {previous_boot}``: another boot, or a monotonic clock that
      ran backwards (a restored virtual machine), so that no time since
      ``previous`` can be shown;
    - ``clock-stepped {by_s, earlier}``: the wall clock moved against the
      monotonic one by more than 2 s plus 500 parts in a million of the elapsed
      time, or reads earlier than before. ``by_s`` is in seconds, positive
      forwards. Across a restart only "earlier" can be seen, and ``by_s`` is then
      the difference of the wall times.

    A change of the offset from UTC alone is not a step.
    """
    wall_s = (parse(now.wall) - parse(previous.wall)).total_seconds()
    earlier = wall_s < 0
    if now.boot != previous.boot or now.mono_us < previous.mono_us:
        restarted = Draft("machine-restarted", {"previous_boot": previous.boot}, actor="clock")
        return [restarted, _stepped(wall_s, earlier)] if earlier else [restarted]
    elapsed_s = (now.mono_us - previous.mono_us) / 1e6
    by_s = wall_s - elapsed_s
    if earlier or abs(by_s) > STEP_TOLERANCE_S + SLEW_TOLERANCE * elapsed_s:
        return [_stepped(by_s, earlier)]
    return []


def boot_id() -> str:
    """A name for this boot of the machine.

    Linux and macOS keep one. Elsewhere it is derived from the minute the machine
    started, reckoned from both clocks: a wall clock set between two runs of the
    app then reads as a restart, which voids a running hold rather than
    stretching it.
    """
    try:
        return _LINUX_BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        pass
    if sys.platform == "darwin":
        answer = subprocess.run(
            ["/usr/sbin/sysctl", "-n", "kern.bootsessionuuid"], capture_output=True, text=True, check=False
        )
        if answer.stdout.strip():
            return answer.stdout.strip().lower()
    return derived_boot_id(time.time(), monotonic_ns() / 1e9)


def derived_boot_id(wall_s: float, monotonic_s: float) -> str:
    """Name of a boot from the UTC minute it began; both times in seconds."""
    return f"started-{round((wall_s - monotonic_s) / 60)}"


def _stepped(by_s: float, earlier: bool) -> Draft:
    return Draft("clock-stepped", {"by_s": round(by_s, 3), "earlier": earlier}, actor="clock")
