"""Packages that are hard on whoever takes them in: each is told in a sentence, none half entered."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from datetime import UTC, datetime

import cv2
import numpy as np
import pytest
import rfc8785

from evidence_app.desk.intake import Desk, Intake, sentences
from evidence_app.desk.printing import print_report
from evidence_app.desk.search import find, show
from evidence_app.deskpage.shown.package import lines_of
from evidence_app.package.keys.keylist import DeviceKey, open_key_list, write_key_list
from evidence_app.package.verify.result import LABELS
from evidence_app.practice.clock import PracticeClock
from tests.hostile.bag import JOURNAL, Bag, key_name, sha
from tests.hostile.make import ATTACKS, build, sound_package
from tests.making import DEPOT, TECHNICIAN, make_key


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return sound_package(tmp_path_factory.mktemp("sound"))


@pytest.fixture
def desk(register, sound) -> Intake:
    return Intake(register, Desk("desk 2", open_key_list(sound[1])))


# --- told by name ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("attack", "check", "said"),
    [
        ("seal-of-newer-format", "seal", "newer"),
        ("seal-with-unknown-field", "seal", "unknown field"),
        ("seal-missing", "seal", "seal.json"),
        ("everything-resealed", "key", "not in the list of northquay"),
        ("report-with-a-script", "report", "<script"),
        ("report-that-loads-something", "report", "seen.png"),
    ],
)
def test_what_is_wrong_is_entered_by_name(register, desk, sound, tmp_path, attack, check, said):
    taken = desk.take(build(ATTACKS[attack], sound[0], tmp_path).path)
    assert (taken.state, taken.checked.exit_status) == ("entered", 1)
    lines = list(lines_of(show(register, taken.package)))
    failing = [line for line in lines if line.split()[:1] == ["fails"] and f"{LABELS[check]}:" in line]
    at = lines.index(failing[0])
    assert said in "\n".join(lines[at : at + 4]).lower()


@pytest.mark.parametrize(
    ("revoked", "received", "status"),
    [
        ("2026-03-01", "2026-03-05", 1),  # before it was sealed
        ("2026-03-04", "2026-03-05", 1),  # afterwards, and only then received
        ("2026-03-06", "2026-03-05", 0),  # after the desk had it
    ],
)
def test_revoked_key_is_judged_by_the_day_of_receipt(register, sound, tmp_path, revoked, received, status):
    year, after = (datetime(y, 1, 1, tzinfo=UTC) for y in (2026, 2027))
    at = datetime.fromisoformat(f"{revoked}T12:00:00+00:00")
    key = DeviceKey(key_name(Bag.read(sound[0]).key), TECHNICIAN, "tablet 3", year, after, at)
    write_key_list(tmp_path / "keys.toml", DEPOT, at, [key], make_key(9))
    clock = PracticeClock(f"{received}T12:00:00.000+00:00")
    intake = Intake(register, Desk("desk 2", open_key_list(tmp_path / "keys.toml")), clock)
    taken = intake.take(sound[0])
    assert taken.checked.exit_status == status
    assert (taken.checked.result.failed == ("key",)) is bool(status)


# --- too much ------------------------------------------------------------------------------


def test_hundred_thousand_events_are_read_to_the_end(register, desk, sound, tmp_path):
    bag = Bag.read(sound[0])
    events = bag.events
    typed = next(n for n, event in enumerate(events) if event["kind"] == "item-ticked")
    bag.files[JOURNAL] = _chained(events[:typed], events[typed], 100_000, events[typed + 1 :])
    path = tmp_path / "long.zip"
    path.write_bytes(bag.own().zip())
    taken = desk.take(path)
    result = taken.checked.result
    assert (taken.state, result.facts.events) == ("entered", len(events) + 99_999)
    assert result.check("journal-chain").outcome == "holds"
    # Names of originals and the record are those of the shorter journal, which is found too.
    assert result.failed == ("originals", "record")


def _chained(before: list, repeated: dict, times: int, after: list) -> bytes:
    """A sound journal; the canonical form of the repeated event is made once."""
    mark = b'"sequence":' + str(repeated["sequence"]).encode()
    first, last = rfc8785.dumps(repeated).split(mark)
    forms = [rfc8785.dumps(event) for event in before]
    forms += [b'%b"sequence":%d%b' % (first, len(before) + n, last) for n in range(1, times + 1)]
    forms += [
        rfc8785.dumps(event | {"sequence": len(before) + times + n}) for n, event in enumerate(after, 1)
    ]
    lines, previous = [], "0" * 64
    for form in forms:
        previous = hashlib.sha256(previous.encode() + form).hexdigest()
        lines.append(b'{"event":%b,"hash":"%b"}\n' % (form, previous.encode()))
    return b"".join(lines)


@pytest.fixture(scope="module")
def huge(sound, tmp_path_factory):
    """A package sealed round a photo of 200 megapixels."""
    bag = Bag.read(sound[0])
    name = bag.first("data/photos/")
    picture = np.tile(np.arange(250, dtype=np.uint8), (10_000, 80))
    data = cv2.imencode(".jpg", picture)[1].tobytes()
    old, bag.files[name] = bag.files[name], data

    def exchanged(events: list) -> list:
        told = json.loads(json.dumps(events).replace(sha(old), sha(data)))
        for event in told:
            if event["kind"] == "photo-taken" and event["body"]["photo"]["sha256"] == sha(data):
                event["body"]["photo"]["bytes"] = len(data)
        return told

    path = tmp_path_factory.mktemp("huge") / "huge.zip"
    path.write_bytes(bag.rewrite(exchanged).own().zip())
    return path


def test_photo_of_200_megapixels_is_checked_and_said_not_to_be_compared(register, desk, huge):
    taken = desk.take(huge)
    assert taken.state == "entered"
    told = "\n".join(sentences(taken))
    assert told.count("could not be compared with earlier photos") == 1
    assert told.count("is too large") == 1


def test_same_huge_photo_again_is_still_recognised(register, desk, huge, sound, tmp_path):
    desk.take(huge)
    bag = Bag.read(huge)

    def of_another_job(events: list) -> None:
        events[0]["body"]["job"] = "job-of-another-claim"
        events[0]["body"]["claim"] = "NQ-2026-0999"

    again = tmp_path / "again.zip"
    again.write_bytes(bag.rewrite(of_another_job).own(job="job-of-another-claim").zip())
    reused = desk.take(again).reused
    assert "same-file" in {each["verdict"] for each in reused if "photos" in each["path"]}


def test_report_with_a_huge_photo_is_printed(huge):
    assert print_report(huge).startswith(b"%PDF-")


# --- the disk goes away ------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["cut", "gone", "folder"])
@pytest.mark.parametrize("when", [1, 2])
def test_disk_removed_in_the_middle_enters_nothing(register, desk, sound, tmp_path, how, when):
    stick = tmp_path / "stick"
    stick.mkdir()
    path = stick / "package.zip"
    shutil.copy(sound[0], path)
    if how == "folder":
        with zipfile.ZipFile(path) as archive:
            archive.extractall(stick)
        path = stick / sound[0].stem
    told = []

    def remove(done: int, total: int) -> None:
        told.append(done)
        if len(told) == when:
            if how == "cut":
                path.write_bytes(path.read_bytes()[:1000])
            elif how == "gone":
                path.unlink()
            else:
                shutil.rmtree(path)

    taken = desk.take(path, remove)
    assert (taken.state, find(register)) == ("not-received", [])
    assert str(stick) in sentences(taken)[0]
    assert desk.take(sound[0]).state == "entered", "the desk goes on with the next package"
