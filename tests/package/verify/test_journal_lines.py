"""The quick reader of journals takes exactly what the strict one takes."""

from __future__ import annotations

import json

import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from evidence_app.package.verify.journal_lines import (
    certainly_canonical,
    content,
    plainly_canonical,
    read_line,
)
from evidence_app.record.event import Draft, Instant, canonical, from_line, seal_draft, to_line

WALL = Instant("2026-03-02T08:15:30.123+01:00", 31_000_000, "boot")

numbers = st.one_of(
    st.integers(-(2**53), 2**53),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([0.0, -0.0, 1e-6, 1.5e-6, 1e-7, 1e16, 1e20, 1e21, 1e22, 10.0, 2.5, 5e-324]),
)
values = st.recursive(
    st.one_of(st.none(), st.booleans(), numbers, st.text()),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


def reference(data: bytes) -> bytes:
    """Canonical bytes by the RFC 8785 library, integers read as the doubles that they are."""
    return rfc8785.dumps(json.loads(data, parse_int=lambda digits: _number(digits)))


def _number(digits: str) -> int | float:
    return int(digits) if abs(int(digits)) < 2**53 else float(digits)


@given(values)
def test_what_is_called_canonical_is_canonical(value):
    value = {"value": value}
    for data in (json.dumps(value).encode(), json.dumps(value, separators=(",", ":"),
                 sort_keys=True, ensure_ascii=False).encode("utf-8", "surrogatepass")):  # fmt: skip
        if certainly_canonical(data) is not None:
            assert reference(data) == data


@given(st.dictionaries(st.text(), values, max_size=5))
def test_any_recorded_event_reads_back_the_same(body):
    try:
        event = seal_draft(Draft("note-written", body), WALL, 1, "0" * 64)
    except Exception:
        return
    line = to_line(event)
    assert read_line(line, "line") == from_line(line)
    assert content(line) == canonical(event)


@given(values)
def test_what_is_written_plainly_is_what_the_library_writes(value):
    value = {"value": value}
    try:
        expected = rfc8785.dumps(value)
    except rfc8785.CanonicalizationError:
        return
    assert plainly_canonical(value) in (None, expected)


def test_whole_numbers_true_and_text_are_written_plainly():
    for value in ({"a": 1.0}, {"a": [True, 1, "2.0"]}, {"b": -0.0, "a": ("x", 10.0)}, {"a": 0.25}):
        assert plainly_canonical(value) == rfc8785.dumps(value)


def test_ordinary_events_take_the_short_way():
    body = {"checks": [{"holds": True, "limit": 2.475, "name": "focus", "value": 3.1}], "a": None}
    event = seal_draft(Draft("photo-judged", body, "inspect-slot"), WALL, 12, "0" * 64)
    assert certainly_canonical(content(to_line(event))) is not None


def test_other_spellings_are_not_called_canonical():
    for text in ('{"a":1.0}', '{"a":1e3}', '{"a": 1}', '{"b":1,"a":2}', '{"a":1,"a":1}', '{"a":-0}',
                 '{"a":"\\u0041"}', '{"a":NaN}', '{"a":"\\/"}', '{"a":1}\n', '{"a":0.0000001}',
                 '{"a":1e-7}', '{"a":90071992547409930}', '{"a":01}'):  # fmt: skip
        assert certainly_canonical(text.encode()) is None, text
