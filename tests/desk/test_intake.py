"""What is taken in, what is not, and what is told of it."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from evidence_app.desk import search
from evidence_app.desk.intake import Desk, Intake, packages_below
from evidence_app.errors import PackageError
from evidence_app.package.keys.keylist import open_key_list
from tests.hostile.bag import Bag
from tests.hostile.make import ATTACKS, build, sound_package
from tests.making import make_closed_job, make_key, seal

ROOT = Path(__file__).resolve().parents[2]


def rows(register):
    return search.find(register)


def test_sound_package_is_entered_with_its_result(register, intake, completed):
    taken = intake.take(completed)
    row = rows(register)[0]
    assert (taken.state, taken.package) == ("entered", row["id"])
    assert row["overall"] == "All 13 checks that were made hold; not checked: Whose key."
    assert (row["exit_status"], row["checked_by"]) == (0, "0.1.0")
    assert row["checked_at"]


def test_facts_come_from_seal_and_journal(register, intake, stopped):
    intake.take(stopped)
    row = rows(register)[0]
    assert (row["claim"], row["serial"], row["outcome"]) == ("NQ-2026-0200", "H7-004211", "stopped")
    assert (row["technician"], row["stop_rule"]) == ("M. Okafor-Lind", "slot-residue")


def test_same_package_again_is_recognised(register, intake, completed, tmp_path):
    first = intake.take(completed)
    copy = tmp_path / "copy from a stick.zip"
    shutil.copy(completed, copy)
    again = intake.take(copy)
    assert (again.state, again.package) == ("known", first.package)
    assert len(rows(register)) == 1
    kinds = [event["kind"] for event in search.show(register, first.package).events]
    assert kinds == ["received", "received-again"]


def test_unpacked_package_is_the_same_package(register, intake, completed, tmp_path):
    first = intake.take(completed)
    with zipfile.ZipFile(completed) as archive:
        archive.extractall(tmp_path)
    assert intake.take(tmp_path / completed.stem).package == first.package


def test_check_again_keeps_both_results(register, tmp_path):
    package, key_list = sound_package(tmp_path)
    Intake(register, Desk("desk 2")).take(package)
    taken = Intake(register, Desk("desk 2", open_key_list(key_list))).take(package, again=True)
    results = search.show(register, taken.package).results
    assert [result["overall"] for result in results] == [
        "All 13 checks that were made hold; not checked: Whose key.",
        "All 14 checks hold.",
    ]
    assert results[1]["key_list"].startswith("Northquay Instrument Depot")


def test_job_sealed_twice_is_a_conflict(register, intake, tmp_path):
    job = make_closed_job(tmp_path / "job")
    first = intake.take(seal(job, tmp_path / "one", make_key(1)).path)
    second = intake.take(seal(job, tmp_path / "two", make_key(2)).path)
    assert second.state == "entered"
    assert second.conflicts[0]["id"] == first.package
    assert "sealed twice" in str(second.conflicts[0]["sentence"])
    assert search.show(register, first.package).conflicts[0]["id"] == second.package


def test_altered_copy_is_a_conflict_with_the_same_seal(intake, completed, tmp_path):
    intake.take(completed)
    altered = build(ATTACKS["photo-byte-altered"], completed, tmp_path).path
    assert intake.take(altered).conflicts[0]["same_seal"] is True


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return sound_package(tmp_path_factory.mktemp("sound"))


# The checks are tried one by one elsewhere; here one attack for each check is enough.
ONE_OF_EACH = {attack.check: attack for attack in reversed(ATTACKS.values())}


def test_hostile_package_is_entered_with_what_is_wrong(register, sound, tmp_path):
    package, key_list = sound
    intake = Intake(register, Desk("desk 2", open_key_list(key_list)))
    for name, attack in ONE_OF_EACH.items():
        taken = intake.take(build(attack, package, tmp_path).path)
        assert taken.package is not None, name
        assert taken.checked is None or taken.checked.exit_status > 0, name
    found = rows(register)
    assert len(found) == len(ONE_OF_EACH) > 10
    assert {row["exit_status"] for row in found} == {1, 2}


def test_unreadable_file_is_entered_as_received(register, intake, tmp_path):
    path = tmp_path / "broken.zip"
    path.write_bytes(b"PK\x03\x04 and then the disk was full")
    taken = intake.take(path)
    row = rows(register)[0]
    assert (taken.state, row["exit_status"], row["kind"]) == ("entered", 2, "unreadable")
    assert "cut short" in row["overall"]


def test_missing_file_is_not_received(register, intake, tmp_path):
    taken = intake.take(tmp_path / "gone.zip")
    assert taken.state == "not-received"
    assert "no such file" in str(taken.sentence)
    assert rows(register) == []


def test_package_that_changes_while_it_is_checked_is_not_received(register, intake, completed, tmp_path):
    path = tmp_path / "unsteady.zip"
    shutil.copy(completed, path)
    seen = []

    def touch(done, total):
        seen.append(done)
        if len(seen) == 3:
            path.write_bytes(path.read_bytes() + b" ")

    taken = intake.take(path, touch)
    assert taken.state == "not-received"
    assert "changed" in str(taken.sentence)
    assert rows(register) == []


def test_cancelled_intake_enters_nothing(register, intake, completed):
    class Cancelled(Exception):
        pass

    def cancel(done, total):
        raise Cancelled

    with pytest.raises(Cancelled):
        intake.take(completed, cancel)
    assert rows(register) == []
    assert intake.take(completed).state == "entered"


def test_progress_reaches_the_end(intake, completed):
    seen = []
    intake.take(completed, lambda done, total: seen.append((done, total)))
    assert seen[-1][0] == seen[-1][1] > 0


def test_folder_gives_every_package_below_it(completed, stopped, tmp_path):
    (tmp_path / "week" / "one").mkdir(parents=True)
    shutil.copy(completed, tmp_path / "week" / "one" / "a.zip")
    with zipfile.ZipFile(stopped) as archive:
        archive.extractall(tmp_path / "week")
    (tmp_path / "week" / "notes.txt").write_text("not a package")
    found = [path.name for path in packages_below([tmp_path])]
    assert sorted(found) == ["a.zip", stopped.stem]


def test_empty_folder_is_said(tmp_path):
    with pytest.raises(PackageError, match="no package in this folder"):
        list(packages_below([tmp_path]))


TAKER = """
import sys
from pathlib import Path
from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.register import Register
intake = Intake(Register(Path(sys.argv[1])), Desk(sys.argv[2]))
print(",".join(intake.take(Path(path)).state for path in sys.argv[3:]))
"""


def test_two_processes_enter_each_package_once(register, completed, stopped, tmp_path):
    paths = [completed, stopped]
    for number in range(6):
        path = tmp_path / f"unreadable-{number}.zip"
        path.write_bytes(b"PK\x03\x04" + bytes([number]))
        paths.append(path)
    running = [
        subprocess.Popen(
            [sys.executable, "-c", TAKER, str(register.path), f"desk {n}", *map(str, paths)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        for n in (1, 2)
    ]
    states = [process.communicate()[0].strip().split(",") for process in running]
    assert len(rows(register)) == len(paths)
    for pair in zip(*states, strict=True):
        assert sorted(pair) == ["entered", "known"]


def test_bad_package_offered_again_keeps_its_verdict(intake, completed, tmp_path):
    bad = tmp_path / "bad.zip"
    bad.write_bytes(Bag.read(completed).flip("data/report.html").zip())
    first, again = intake.take(bad), intake.take(bad)
    assert (first.exit_status, again.exit_status) == (1, 1)
    assert str(first.checked.overall) in str(again.sentence)
