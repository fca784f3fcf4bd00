"""The parts of a body whose fields the vocabulary leaves open: where a photo came from, and
what a measurement found. Each function gives the value when it has the expected form and None
otherwise (text of another type is shown as its JSON)."""

from typing import Any

import rfc8785

from evidence_app.record.event import is_number

_DEEPEST = 6


def text(table: dict[str, Any], key: str) -> str | None:
    value = table.get(key)
    return value if value is None or isinstance(value, str) else as_json(value)


def number(table: dict[str, Any], key: str) -> float | None:
    value = table.get(key)
    return value if is_number(value) else None


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
