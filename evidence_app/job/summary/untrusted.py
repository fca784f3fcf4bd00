"""Reading event bodies without trusting their form.

A journal that parses may still hold a body that no version of the app writes.
Each function gives the value when it has the expected form and None otherwise
(text of another type is shown as its JSON), so that a summary can always be made.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import rfc8785

from evidence_app.job.summary.evidence import Moment, Original
from evidence_app.record import times
from evidence_app.record.event import LARGEST_INTEGER, Event

_DEEPEST = 6


def text(body: Any, key: str) -> str | None:
    value = body.get(key) if isinstance(body, dict) else None
    if value is None or isinstance(value, str):
        return value
    return as_json(value)


def number(body: Any, key: str) -> float | None:
    value = body.get(key) if isinstance(body, dict) else None
    return value if isinstance(value, int | float) and not isinstance(value, bool) else None


def whole(body: Any, key: str) -> int | None:
    value = number(body, key)
    return value if isinstance(value, int) else None


def flag(body: Any, key: str) -> bool | None:
    value = body.get(key) if isinstance(body, dict) else None
    return value if isinstance(value, bool) else None


def table(body: Any, key: str) -> dict[str, Any]:
    value = body.get(key) if isinstance(body, dict) else None
    return value if isinstance(value, dict) else {}


def rows(body: Any, key: str) -> list[Any]:
    value = body.get(key) if isinstance(body, dict) else None
    return list(value) if isinstance(value, list | tuple) else []


def texts(body: Any, key: str) -> tuple[str, ...]:
    return tuple(row if isinstance(row, str) else as_json(row) for row in rows(body, key))


def original(body: Any, key: str) -> Original | None:
    """The original that ``key`` names; None when it gives no checksum as text."""
    ref = table(body, key)
    sha256 = ref.get("sha256")
    if not isinstance(sha256, str):
        return None
    return Original(sha256=sha256, bytes=whole(ref, "bytes"), media_type=text(ref, "media_type"))


def shallow(value: Any, depth: int = _DEEPEST) -> Any:
    """``value`` with everything nested deeper than ``depth`` written as "…"."""
    if isinstance(value, dict):
        return {k: shallow(v, depth - 1) for k, v in value.items()} if depth else "…"
    if isinstance(value, list | tuple):
        return [shallow(v, depth - 1) for v in value] if depth else "…"
    return value


def as_json(value: Any) -> str:
    try:
        return rfc8785.dumps(shallow(value)).decode("utf-8")
    except (rfc8785.CanonicalizationError, UnicodeError):
        return "(not JSON)"


def moment(event: Event) -> Moment:
    return Moment(sequence=event.sequence, wall=event.wall)


def total(values: list[int | None]) -> int:
    """Sum of the known values, at most the largest integer JSON can hold exactly."""
    return min(sum(max(value or 0, 0) for value in values), LARGEST_INTEGER)


def mono_s(earlier: Event, later: Event) -> float | None:
    """Seconds from ``earlier`` to ``later`` on the monotonic clock; None across boots."""
    if earlier.boot != later.boot:
        return None
    return round((later.mono_us - earlier.mono_us) / 1e6, 6)


def wall_s(earlier: Event, later: Event) -> float | None:
    """Seconds between the two wall times; None when one cannot be read."""
    start, end = wall_time(earlier.wall), wall_time(later.wall)
    if start is None or end is None:
        return None
    return round((end - start).total_seconds(), 3)


def wall_time(wall: str) -> datetime | None:
    try:
        return times.parse(wall)
    except ValueError:
        return None
