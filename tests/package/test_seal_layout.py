"""The seal's own form, the names of originals, and the paths in manifests."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence_app.errors import PackageError
from evidence_app.package.bag import decode_path, encode_path, manifest
from evidence_app.package.layout import (
    Seal,
    SealedStepList,
    fingerprint,
    place_originals,
    portable,
    read_seal,
    seal_bytes,
)
from evidence_app.record.event import Event

SEAL = Seal(
    format="evidence-seal/1",
    app="0.1.0",
    job="3f2a1b4c-9d52-4a6e-8f0b-0c1d2e3f4a5b",
    claim="NQ-2026-0117",
    serial="H7-004211",
    outcome="completed",
    practice=False,
    step_list=SealedStepList("ossmere-h7-slot-look", "1.0", "1" * 64),
    opened_at="2026-03-02T08:15:30.123+01:00",
    closed_at="2026-03-02T09:15:30.123+01:00",
    events=60,
    journal_head="2" * 64,
    payload_manifest_sha256="3" * 64,
    tag_manifest_sha256="4" * 64,
    device_key_sha256="5" * 64,
    fingerprint="GN7E-4I73-RGWP-LNJC-JRKX",
)


def test_a_seal_reads_back():
    assert read_seal(seal_bytes(SEAL)) == SEAL


def test_a_seal_is_one_line_with_its_keys_in_order():
    keys = list(json.loads(seal_bytes(SEAL)))
    assert (b"\n" in seal_bytes(SEAL), keys) == (False, sorted(keys))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b'"events":60', b'"events":60,"events":61', "canonical"),
        (b'"events":60', b'"events": 60', "canonical"),
        (b'"events":60', b'"events":60.0', "canonical|int"),
        (b'"events":60', b'"events":9007199254740993', "cannot be read"),
        (b'"events":60', b'"events":NaN', "cannot be read"),
        (b'"events":60', b'"events":60,"more":1', "more"),
        (b'"events":60,', b"", "events"),
        (b"2" * 64, b"2" * 63, "journal_head"),
        (b"2" * 64, b"A" * 64, "journal_head"),
        (b"evidence-seal/1", b"evidence-seal/2", "format"),
        (b"NQ-2026-0117", b"NQ-2026\\u002d0117", "canonical"),
        (b"NQ-2026-0117", b"\xff", "cannot be read"),
        (b"}", b"}\n", "cannot be read|canonical"),
    ],
)
def test_a_seal_in_any_other_form_is_refused(old, new, said):
    with pytest.raises(PackageError, match=said):
        read_seal(seal_bytes(SEAL).replace(old, new))


def test_the_fingerprint_has_five_groups_of_four():
    groups = fingerprint("0" * 64, "1" * 64).split("-")
    assert [len(group) for group in groups] == [4] * 5


def test_the_fingerprint_depends_on_journal_and_key():
    values = {fingerprint(a, b) for a in ("0" * 64, "1" * 64) for b in ("0" * 64, "1" * 64)}
    assert len(values) == 4


# --- names of originals -----------------------------------------------------------------


def event(sequence: int, kind: str, body: dict, step: str | None = "inspect-slot") -> Event:
    wall = "2026-03-02T08:15:30.123+01:00"
    return Event(sequence, kind, step, body, wall, 1, "boot", "technician", "0" * 64)


def ref(digit: str) -> dict:
    return {"sha256": digit * 64, "bytes": 5, "media_type": "image/jpeg"}


def paths(*events: Event) -> list[str]:
    return [place.path for place in place_originals(events)]


def test_a_photo_is_named_for_event_step_and_digest():
    assert paths(event(7, "photo-taken", {"photo": ref("a")})) == [
        "data/photos/0007-inspect-slot-aaaaaaaa.jpg"
    ]


def test_a_note_before_the_first_step_is_named_for_the_job():
    assert paths(event(3, "note-recorded", {"audio": ref("b")}, None)) == [
        "data/voice/0003-job-bbbbbbbb.flac"
    ]


def test_a_measurement_without_drawing_has_no_file():
    assert paths(event(7, "measured", {"photo": "a" * 64, "markup": None})) == []


def test_an_original_named_twice_has_one_place():
    twice = [event(n, "photo-taken", {"photo": ref("a")}) for n in (7, 8)]
    assert len(paths(*twice)) == 1


def test_a_second_ticket_stands_beside_the_first():
    tickets = [
        event(n, "ticket-opened", {"ticket": ref(a), "signature": ref(b)})
        for n, a, b in ((2, "a", "b"), (5, "c", "d"))
    ]
    assert paths(*tickets) == [
        "data/ticket/ticket.json",
        "data/ticket/ticket.sig",
        "data/ticket/ticket-0005.json",
        "data/ticket/ticket-0005.sig",
    ]


@pytest.mark.parametrize(
    "photo", [None, "a" * 64, {}, {"sha256": "../" * 22, "bytes": 5}, {"sha256": "a" * 64, "bytes": -1}]
)
def test_an_event_that_names_no_original_is_refused_by_number(photo):
    with pytest.raises(PackageError, match="event 7"):
        paths(event(7, "photo-taken", {"photo": photo}))


@given(st.text(max_size=100), st.integers(1, 60))
def test_no_text_makes_a_name_that_leaves_its_folder_or_fails_on_windows(text, longest):
    name = portable(text, longest)
    assert len(name) <= longest
    assert all(c.isascii() and (c.isalnum() or c in "-._") for c in name)
    assert ".." not in name
    assert name == name.strip(".-")


# --- paths in manifests (RFC 8493 2.1.3) ---------------------------------------------------


@pytest.mark.parametrize(
    ("path", "written"),
    [
        ("data/a b.jpg", "data/a b.jpg"),
        ("data/100%.jpg", "data/100%25.jpg"),
        ("data/a\nb", "data/a%0Ab"),
        ("data/a\rb", "data/a%0Db"),
        ("data/%0A", "data/%250A"),
        ("data/é", "data/é"),
    ],
)
def test_only_line_ends_and_percent_are_encoded(path, written):
    assert encode_path(path) == written


@given(st.text())
def test_every_path_reads_back(path):
    assert decode_path(encode_path(path)) == path


def test_a_manifest_is_sorted_by_path():
    assert manifest({"b": "1" * 64, "a": "2" * 64}) == f"{'2' * 64}  a\n{'1' * 64}  b\n".encode()
