"""Events: what may be recorded, their exact line, and what the chain shows."""

from __future__ import annotations

import json
from enum import Enum

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence_app.errors import RecordError
from evidence_app.record.event import (
    GENESIS,
    Draft,
    Event,
    Instant,
    from_line,
    seal_draft,
    to_line,
    verify_chain,
)

NOON = Instant("2026-03-02T12:00:00.000+01:00", 5_000_000, "boot-1")


def event_of(body: dict, kind: str = "note-written") -> Event:
    return seal_draft(Draft(kind, body, step="look"), NOON, 1, GENESIS)


def chain_of(length: int) -> list[Event]:
    events: list[Event] = []
    previous = GENESIS
    for number in range(1, length + 1):
        events.append(seal_draft(Draft("item-ticked", {"n": number}), NOON, number, previous))
        previous = events[-1].hash
    return events


LINE = to_line(event_of({"text": "ok"}))

json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=("Cs",))),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=("Cs",))), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.text(st.characters(exclude_categories=("Cs",))), json_values, max_size=4))
def test_any_json_body_reads_back_equal(body):
    event = event_of(body)
    assert event.body == body
    assert from_line(to_line(event)) == event


def test_tuple_is_recorded_as_list():
    assert event_of({"sizes": (4000, 3000)}).body == {"sizes": [4000, 3000]}


def test_line_is_one_line_of_plain_json():
    line = to_line(event_of({"text": "first\nsecond\u2028third"}))
    assert line.count(b"\n") == 1
    assert json.loads(line)["event"]["body"]["text"] == "first\nsecond\u2028third"


class Colour(Enum):
    RED = 1


@pytest.mark.parametrize(
    ("value", "named"),
    [
        (float("nan"), "body.result[1].value is nan"),
        (float("inf"), "body.result[1].value is inf"),
        (2**53, "body.result[1].value is an integer beyond"),
        (b"bytes", "body.result[1].value is of type bytes"),
        ({1, 2}, "body.result[1].value is of type set"),
        (Colour.RED, "body.result[1].value is of type Colour"),
        ({1: "one"}, "body.result[1].value has the key 1"),
        ("\ud800", "body.result[1].value holds half of a surrogate pair"),
    ],
)
def test_value_that_json_cannot_hold_is_refused_by_its_place(value, named):
    with pytest.raises(RecordError) as caught:
        event_of({"result": [1, {"value": value}]})
    assert named in str(caught.value.what)


def test_body_that_is_not_an_object_is_refused():
    with pytest.raises(RecordError, match="journal's form"):
        event_of(["a", "list"])


@pytest.mark.parametrize("kind", ["", "Photo Taken", "photo_taken", "photo-taken\n", "é"])
def test_kind_that_is_not_hyphened_words_is_refused(kind):
    with pytest.raises(RecordError, match="journal's form"):
        event_of({}, kind)


def test_wall_time_that_is_not_rfc_3339_is_refused():
    with pytest.raises(RecordError, match="RFC 3339"):
        seal_draft(Draft("job-left", {}), Instant("2026-03-02 12:00", 1, "boot"), 1, GENESIS)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param(b'"kind":', b'"kind":"x","kind":', id="duplicate key"),
        pytest.param(b'{"text":"ok"}', b'{"text":"ok","text":"ok"}', id="duplicate key in body"),
        pytest.param(b'"ok"', b"NaN", id="NaN"),
        pytest.param(b'"ok"', b"-Infinity", id="infinity"),
        pytest.param(b'"ok"', b"1.0", id="number not canonical"),
        pytest.param(b'"ok"', b"1e400", id="number too large"),
        pytest.param(b'"ok"', b"9007199254740993", id="integer no double holds"),
        pytest.param(b'"ok"', b"9" * 5000, id="integer of 5000 digits"),
        pytest.param(b'"ok"', b'"\\u006fk"', id="needless escape"),
        pytest.param(b'"ok"', b'"\\ud800"', id="half surrogate"),
        pytest.param(b'"ok"', b'"\xff"', id="not UTF-8"),
        pytest.param(b'"ok"', b'"\xc3"', id="cut UTF-8"),
        pytest.param(b'"ok"', b' "ok"', id="space"),
        pytest.param(b'"ok"', b'"ok",', id="trailing comma"),
        pytest.param(b'"ok"', b"[" * 100_000 + b"]" * 100_000, id="nested too deep"),
        pytest.param(b'"boot":"boot-1",', b"", id="missing key"),
        pytest.param(b'"boot":"boot-1",', b'"boot":"boot-1","colour":1,', id="unknown key"),
        pytest.param(b'"boot":"boot-1",', b'"boot":"boot-1","hash":"0",', id="hash within"),
        pytest.param(b'"sequence":1', b'"sequence":"1"', id="sequence as text"),
        pytest.param(b'"sequence":1', b'"sequence":true', id="sequence as truth"),
        pytest.param(b'"sequence":1', b'"sequence":0', id="sequence zero"),
        pytest.param(b'"mono_us":5000000', b'"mono_us":-1', id="negative time"),
        pytest.param(b"12:00:00.000+01:00", b"25:00:00.000+01:00", id="time that is none"),
        pytest.param(b'"actor":"technician",', b"", id="no actor"),
        pytest.param(b',"hash":"', b',"hash":"G', id="hash not hex"),
        pytest.param(b'"}\n', b'"}', id="no newline"),
        pytest.param(b'"}\n', b'"}\r\n', id="Windows newline"),
        pytest.param(b'{"event":', b'\xef\xbb\xbf{"event":', id="byte order mark"),
    ],
)
def test_line_spelled_otherwise_is_refused(old, new):
    assert LINE.count(old) == 1
    with pytest.raises(RecordError):
        from_line(LINE.replace(old, new))


@pytest.mark.parametrize("line", [b"", b"\n", b"{}\n", b"null\n", LINE + LINE, LINE[:-40]])
def test_what_is_not_one_line_is_refused(line):
    with pytest.raises(RecordError):
        from_line(line)


def test_keys_out_of_order_are_refused():
    fields = json.loads(LINE)["event"]
    backwards = json.dumps(dict(reversed(fields.items())), separators=(",", ":")).encode()
    with pytest.raises(RecordError, match="not canonical"):
        from_line(b'{"event":' + backwards + LINE[LINE.index(b',"hash"') :])


def test_sound_chain_has_no_problems():
    assert verify_chain(chain_of(5)) == []


def test_empty_chain_has_no_problems():
    assert verify_chain([]) == []


@pytest.mark.parametrize("number", [1, 3, 5])
@pytest.mark.parametrize(
    "change",
    [
        {"body": {"n": 99}},
        {"wall": "2026-03-02T12:00:00.001+01:00"},
        {"mono_us": 5_000_001},
        {"boot": "boot-2"},
        {"actor": "someone"},
        {"kind": "other"},
        {"step": "look"},
    ],
    ids=lambda change: next(iter(change)),
)
def test_altered_field_is_named_by_its_event(number, change):
    events = chain_of(5)
    events[number - 1] = msgspec.structs.replace(events[number - 1], **change)
    (problem,) = verify_chain(events)
    assert str(problem).startswith(f"event {number} ")


def test_altered_hash_shows_in_it_and_in_the_next():
    events = chain_of(5)
    events[2] = msgspec.structs.replace(events[2], hash="f" * 64)
    assert [str(problem).split()[1] for problem in verify_chain(events)] == ["3", "4"]


def test_removed_event_is_seen():
    events = chain_of(5)
    del events[1]
    assert any(str(problem).startswith("event 3") for problem in verify_chain(events))


def test_events_changing_places_are_seen():
    events = chain_of(5)
    events[1], events[2] = events[2], events[1]
    assert verify_chain(events)


def test_event_from_another_job_is_seen():
    ours, theirs = chain_of(3), [event_of({"other": True})]
    assert verify_chain([theirs[0], *ours[1:]])
