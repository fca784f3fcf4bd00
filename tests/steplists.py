"""The parts that the tests' small step lists are put together from, each as TOML text.

``more`` is TOML of the part's own table that no argument gives. What a step or a rule holds
in tables of its own comes behind it as further parts.
"""

from __future__ import annotations

LAMP = '[[tools]]\nid = "lamp"\nname = "Hand lamp"\n'
COUNTED = """\
[[counted]]
id = "rim-screws"
what = "Screws"
kind = "M1.6 × 3, cross recess"
place = "rim of the slot"
missing = "slot-residue"
"""
SPRUNG_STAND = """\
[[cautions]]
id = "sprung-stand"
signal = "CAUTION"
hazard = "The stand is sprung and can pinch fingers."
avoid = "Hold the stand closed with one hand."
"""


def step_list(name: str, title: str, *parts: str, stop: str = "stopped", more: str = "") -> str:
    """``stop`` is the stop rule of a technician who stops."""
    head = _table(
        "", format=1, id=name, version="1.0", title=title,
        defers_to="Local codes and licensed practice come first.", stop_by_technician=stop,
    )  # fmt: skip
    return "\n".join([head + more, *parts])


def device(family: str = "Chart terminals", model: str = "Ossmere H7", more: str = "") -> str:
    return _table("[device]", family=family, model=model) + more


def step(name: str, title: str, instruction: str, *parts: str, more: str = "") -> str:
    head = _table("[[steps]]", id=name, title=title, instruction=instruction)
    return "\n".join([head + more, *parts])


def hold(applied: str, at_least_s: float, more: str = "") -> str:
    return _table("[steps.hold]", applied=applied, at_least_s=at_least_s) + more


def reading(name: str, title: str, more: str) -> str:
    return _table("[[steps.readings]]", id=name, name=title) + more


def photo(name: str, framing: str, more: str = "") -> str:
    return _table("[[steps.checkpoint.photos]]", id=name, framing=framing) + more


def checkpoint(question: str, *photos: str, not_clear: str, cannot_tell: str) -> str:
    """What each finding leads to is TOML; a clear one goes on."""
    findings = f"clear = {{ go-on = true }}\nnot-clear = {not_clear}\ncannot-tell = {cannot_tell}\n"
    asked = _table("[steps.checkpoint]", question=question)
    return "\n".join([asked, *photos, f"[steps.checkpoint.finding]\n{findings}"])


def stop_rule(name: str, reason: str, disposition: str, *photos: str, more: str = "") -> str:
    head = _table("[[stop-rules]]", id=name, reason=reason, disposition=disposition)
    return "\n".join([head + more, *photos])


def stop_photo(name: str, framing: str) -> str:
    return _table("[[stop-rules.photos]]", id=name, framing=framing)


def _table(head: str, **values: str | float) -> str:
    lines = [
        f"{key.replace('_', '-')} = " + (f'"{value}"' if isinstance(value, str) else f"{value}")
        for key, value in values.items()
    ]
    return "\n".join([*([head] if head else []), *lines, ""])
