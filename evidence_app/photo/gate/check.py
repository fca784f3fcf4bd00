"""One judged quantity of a photo or of the live picture."""

from __future__ import annotations

from msgspec import Struct


class Check(Struct, frozen=True):
    """One judged quantity: ``holds`` when ``value`` keeps to ``limit``."""

    name: str
    value: float
    limit: float
    unit: str
    holds: bool
    sentence: str


def at_most(name: str, value: float, limit: float, unit: str, good: str, bad: str) -> Check:
    holds = value <= limit
    return Check(name, round(value, 4), limit, unit, holds, good if holds else bad)


def at_least(name: str, value: float, limit: float, unit: str, good: str, bad: str) -> Check:
    holds = value >= limit
    return Check(name, round(value, 4), limit, unit, holds, good if holds else bad)
