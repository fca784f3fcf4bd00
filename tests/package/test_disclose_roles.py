"""A disclosed copy with roles in the place of names: no name in it, the chain still followed."""

from __future__ import annotations

import hashlib
import json
import zipfile

import pytest
import rfc8785
from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.devices.watch import DeviceLost
from evidence_app.job import commands as c
from evidence_app.package.keys.keylist import DeviceKey, write_key_list
from evidence_app.package.verify.check import verify
from evidence_app.sentence import Sentence
from tests.hostile.make import ATTACKS, build
from tests.making import (
    DEPOT,
    SERIAL,
    STEP_LIST,
    SUPERVISOR,
    TECHNICIAN,
    QuickClock,
    make_closed_job,
    make_key,
    make_package,
    measure_fixed,
    seal,
)


def run(*words):
    return CliRunner().invoke(main, [*map(str, words)])


@pytest.fixture(scope="module")
def stopped(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("stopped"), outcome="stopped").path


def with_note(folder, *commands):
    """A sealed package of an abandoned job in which people write what ``commands`` hold."""
    from evidence_app.job.running.guide import Job

    with Job.open(folder / "job", STEP_LIST, None, SERIAL, "K-1", TECHNICIAN, False, QuickClock(),
                  measure=measure_fixed) as job:  # fmt: skip
        while job.owed and job.state.phase == "preparing":
            owed = job.owed[0]
            job.do(
                c.AcknowledgeCaution(owed.id) if owed.kind == "caution" else c.TickItem(owed.list, owed.id)
            )
        job.do(c.GoOn())
        for command in commands:
            job.do(command)
        job.do(c.Abandon("the unit was called back"))
    return seal(folder / "job", folder / "out").path


def disclosed(package, folder, *more):
    copy = folder / "copy.zip"
    done = run("disclose", package, copy, "--roles", *more)
    assert done.exit_code == 0, done.output
    return copy


def read(package):
    with zipfile.ZipFile(package) as archive:
        return {name.partition("/")[2]: archive.read(name) for name in archive.namelist()}


def journal(package):
    lines = read(package)["journal-roles.jsonl"].decode().splitlines()
    return [json.loads(line) for line in lines]


def test_no_full_name_is_anywhere_in_the_copy(stopped, tmp_path):
    whole = b"".join(read(stopped).values())
    assert TECHNICIAN.encode() in whole
    copy = b"".join(read(disclosed(stopped, tmp_path)).values())
    assert TECHNICIAN.encode() not in copy and SUPERVISOR.encode() not in copy


def test_role_stands_where_the_name_was_and_the_hash_is_kept(stopped, tmp_path):
    before = json.loads(read(stopped)["data/journal.jsonl"].splitlines()[0])
    first = journal(disclosed(stopped, tmp_path))[0]
    assert first["reworded"]["body"] == before["event"]["body"] | {"technician": "technician 1"}
    assert first["hash"] == before["hash"]


def test_supervisor_of_a_stop_is_a_role_too(stopped, tmp_path):
    assert SUPERVISOR.encode() in read(stopped)["data/journal.jsonl"]
    [given] = [e["reworded"] for e in journal(disclosed(stopped, tmp_path))
               if e.get("reworded", {}).get("kind") == "name-given"]  # fmt: skip
    assert given["body"] == {"role": "supervisor", "name": "supervisor 1"}


def test_every_other_line_is_the_journals_byte_for_byte(stopped, tmp_path):
    before = read(stopped)["data/journal.jsonl"].splitlines()
    after = read(disclosed(stopped, tmp_path))["journal-roles.jsonl"].splitlines()
    changed = [old for old, new in zip(before, after, strict=True) if old != new]
    assert all(TECHNICIAN.encode() in old or SUPERVISOR.encode() in old for old in changed)
    assert all(
        new.startswith(b'{"reworded":') for old, new in zip(before, after, strict=True) if old != new
    )


def test_verify_says_what_can_and_what_cannot_be_checked(stopped, tmp_path):
    copy = disclosed(stopped, tmp_path)
    told = run("verify", "--disclosed", copy)
    assert told.exit_code == 0, told.output
    assert "Names are replaced by roles in its journal (entries: 2)" in told.output
    assert "what they say now cannot be checked" in told.output
    assert "event 1 (job-opened): reworded for disclosure" in told.output
    found = verify(copy, disclosed=True)
    assert {check.name for check in found.checks if check.outcome == "not checked"} >= {"record", "report"}
    assert found.check("conduct").outcome == found.check("seal").outcome == "holds"


def test_copy_does_not_pass_unless_one_is_expected(stopped, tmp_path):
    assert run("verify", disclosed(stopped, tmp_path)).exit_code == 1


def test_name_written_into_a_note_becomes_the_role_too(tmp_path):
    package = with_note(tmp_path, c.WriteNote(f"{TECHNICIAN.upper()} held the lamp"))
    [note] = [e["reworded"] for e in journal(disclosed(package, tmp_path))
              if e.get("reworded", {}).get("kind") == "note-written"]  # fmt: skip
    assert note["body"]["text"] == "technician 1 held the lamp"
    assert verify(tmp_path / "copy.zip", disclosed=True).exit_status == 0


def test_part_of_another_word_is_left(tmp_path):
    package = with_note(tmp_path, c.WriteNote(f"{TECHNICIAN}strom held the lamp"))
    disclosed(package, tmp_path)
    assert f"{TECHNICIAN}strom" in read(tmp_path / "copy.zip")["journal-roles.jsonl"].decode()


def test_name_where_nothing_can_be_reworded_is_told_and_no_copy_made(tmp_path):
    package = with_note(tmp_path, c.ReportDevice(DeviceLost("camera", TECHNICIAN, Sentence("unplugged"))))
    told = run("disclose", package, tmp_path / "copy.zip", "--roles")
    assert told.exit_code == 2
    assert "a person is named where nothing can be reworded" in told.output
    assert "data/journal.jsonl line" in told.output
    assert not (tmp_path / "copy.zip").exists()


def test_a_guessed_name_can_be_tried_as_the_format_page_says(stopped, tmp_path):
    """The limit of it: roles keep a name from being read, not from being guessed."""
    first = journal(disclosed(stopped, tmp_path))[0]

    def fits(name):
        event = first["reworded"] | {"body": first["reworded"]["body"] | {"technician": name}}
        return hashlib.sha256(b"0" * 64 + rfc8785.dumps(event)).hexdigest() == first["hash"]

    assert [name for name in ("P. Lindqvist-Amadi", TECHNICIAN, SUPERVISOR) if fits(name)] == [TECHNICIAN]


def test_photos_can_be_withheld_too(stopped, tmp_path):
    copy = disclosed(stopped, tmp_path, "--withhold", "data/photos/*")
    assert not any(name.startswith("data/photos/") for name in read(copy))
    assert verify(copy, disclosed=True).exit_status == 0


def test_key_of_a_copy_with_roles_holds_and_says_what_it_cannot_compare(tmp_path):
    from datetime import UTC, datetime

    package = seal(make_closed_job(tmp_path / "job"), tmp_path / "out", make_key(3)).path
    start, end = (datetime(year, 1, 1, tzinfo=UTC) for year in (2026, 2027))
    keys = tmp_path / "keys.toml"
    write_key_list(keys, DEPOT, start, [DeviceKey(make_key(3).sha256, "S. Brandt-Osei", "tablet 3", start, end)],
                   make_key(9))  # fmt: skip
    assert run("verify", "--keys", keys, package).exit_code == 1
    told = run("verify", "--disclosed", "--keys", keys, disclosed(package, tmp_path))
    assert told.exit_code == 0, told.output
    assert "cannot be checked: a role stands for the name" in told.output


def test_desk_takes_it_for_what_it_is(stopped, tmp_path):
    told = run("desk", "--register", tmp_path / "register.db", "intake", disclosed(stopped, tmp_path),
               "--by", "desk 2", "--without-measuring")  # fmt: skip
    assert told.exit_code == 1 and "Names are replaced by roles" in told.output


ROLES = [name for name, attack in ATTACKS.items() if attack.alter.__module__.endswith("on_roles")]


@pytest.mark.parametrize("name", [name for name in ROLES if ATTACKS[name].check in ("seal", "conduct")])
def test_nothing_but_the_check_aimed_at_finds_it(tmp_path, sound, name):
    assert verify(build(ATTACKS[name], sound.path, tmp_path).path, sound.key_list).failed == (
        ATTACKS[name].check,
    )
