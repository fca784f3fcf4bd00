"""A register that cannot be used: said clearly, and left as it was."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from evidence_app.desk import schema
from evidence_app.desk.contents import read_contents
from evidence_app.desk.intake import Desk, Intake, hash_missing_photos
from evidence_app.desk.register import Checked, Register, Reuse
from evidence_app.desk.search import find
from evidence_app.errors import RegisterError
from evidence_app.package.verify.check import verify
from evidence_app.sentence import sentence

ROOT = Path(__file__).resolve().parents[2]
AT = "2026-03-09T10:00:00.000+01:00"


@pytest.fixture
def filled(register, taken_in) -> Register:
    """Package 1 completed."""
    shutil.copytree(taken_in[0], register.path.parent)
    return register


def test_register_locked_by_another_program(filled, stopped):
    with closing(sqlite3.connect(filled.path)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(RegisterError, match="another program holds the register locked"):
            Intake(filled, Desk("desk 2"))
        other.rollback()
    assert len(find(filled)) == 1


HOLDER = """
import sys, time
from pathlib import Path
from evidence_app.desk.register import Register
with Register(Path(sys.argv[1])).lookup():
    print("held", flush=True)
    time.sleep(3600)
"""


def test_register_held_by_another_run(filled):
    held = subprocess.Popen([sys.executable, "-c", HOLDER, filled.path], cwd=ROOT, stdout=subprocess.PIPE)
    try:
        assert held.stdout.readline() == b"held\n"
        with pytest.raises(RegisterError, match="another run of the app"):
            Register(filled.path, wait_s=0.1).last_photo()
    finally:
        held.kill()
        held.wait()
    assert Register(filled.path, wait_s=5).last_photo() == 2


def test_file_that_is_no_register(register):
    register.path.parent.mkdir(parents=True)
    register.path.write_bytes(b"these are the notes of last week\n" * 100)
    before = register.path.read_bytes()
    with pytest.raises(RegisterError, match="the register is damaged"):
        register.last_photo()
    assert register.path.read_bytes() == before


def overwritten(path: Path) -> bytes:
    """Spoil pages in the middle of the file; the bytes that it has then."""
    data = bytearray(path.read_bytes())
    data[4096 * 3 : 4096 * 9] = os.urandom(4096 * 6)
    path.write_bytes(data)
    return bytes(data)


def test_page_overwritten_in_the_middle(filled):
    overwritten(filled.path)
    with pytest.raises(RegisterError, match="the register is damaged"):
        Intake(filled, Desk("desk 2"))


def test_no_decision_is_added_to_a_damaged_register(filled):
    spoilt = overwritten(filled.path)
    with pytest.raises(RegisterError, match="the register is damaged"):
        filled.decide(1, "returned", "the seal does not hold", "desk 2", AT)
    assert filled.path.read_bytes() == spoilt


def test_damage_after_a_decision_is_found_at_the_next_one(filled):
    filled.decide(1, "returned", "the seal does not hold", "desk 2", AT)
    spoilt = overwritten(filled.path)
    with pytest.raises(RegisterError, match="the register is damaged"):
        filled.decide(1, "returned", "once more", "desk 2", AT)
    assert filled.path.read_bytes() == spoilt


@pytest.mark.parametrize("call", ["last_photo", "lookup"])
def test_folder_in_the_place_of_a_register(tmp_path, call):
    refused = pytest.raises(RegisterError, match="this is a folder, not a register")
    with refused, getattr(Register(tmp_path), call)():
        pass


def test_database_of_another_program(register):
    register.path.parent.mkdir(parents=True)
    with closing(sqlite3.connect(register.path)) as other:
        other.execute("CREATE TABLE stamps (country TEXT)")
    with pytest.raises(RegisterError, match="not a register of this app"):
        register.last_photo()


def test_register_of_a_newer_version_is_left_alone(filled):
    with closing(sqlite3.connect(filled.path)) as other:
        other.execute("PRAGMA journal_mode = delete")
        other.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    before = filled.path.read_bytes()
    with pytest.raises(RegisterError, match="newer version of the app"):
        filled.last_photo()
    assert filled.path.read_bytes() == before


def older(path: Path, package: Path) -> None:
    """A register as version 1 wrote it, with one package in it and no photos."""
    path.parent.mkdir(parents=True)
    with closing(sqlite3.connect(path)) as connection:
        database = Database(connection, execute_plugins=False)
        with database.atomic():
            schema.STEPS[0](database)
            connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
            connection.execute("PRAGMA user_version = 1")
            contents = read_contents(package)
            number = (
                database["packages"]
                .insert(
                    {
                        "content_sha256": contents.content_sha256,
                        "kind": "zip",
                        "name": package.name,
                        "received_at": AT,
                    }
                )
                .last_pk
            )
            database["results"].insert(
                {"package": number, "at": AT, "app": "0.0.9", "exit_status": 0, "overall": "ok"}
                | {"json": "{}"}
            )
            database["events"].insert(
                {"package": number, "kind": "received", "at": AT, "by": "desk 2"}
                | {"body": f'{{"path": "{package}"}}'}
            )


def test_older_register_is_brought_up_to_date_and_its_copy_kept(register, completed):
    older(register.path, completed)
    assert [row["name"] for row in find(register)] == [completed.name]
    with closing(sqlite3.connect(register.path.with_name("register-version-1.db"))) as copy:
        assert copy.execute("PRAGMA user_version").fetchone() == (1,)
        assert copy.execute("SELECT count(*) FROM packages").fetchone() == (1,)


def test_command_says_that_the_register_was_brought_up_to_date(register, completed):
    older(register.path, completed)
    words = ["-m", "evidence_app.cli", "desk", "--register", register.path, "list"]
    command = [sys.executable, *words]
    said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert said.returncode == 0
    kept = register.path.with_name("register-version-1.db")
    assert said.stderr == (
        f"{register.path}: the register was of version 1 and is now of version {schema.VERSION}; "
        f"as it was, it is kept in {kept}\n"
    )


def test_photos_of_an_older_register_are_hashed_afterwards(register, completed):
    older(register.path, completed)
    assert hash_missing_photos(register) == (2, [])
    assert register.last_photo() == 2


def test_failed_step_leaves_the_older_register(register, completed, monkeypatch):
    older(register.path, completed)

    def fails_late(database):
        schema.STEPS[1](database)
        database.conn.execute("CREATE TABLE packages (id INTEGER)")

    monkeypatch.setattr("evidence_app.desk.database.STEPS", (schema.STEPS[0], fails_late))
    with pytest.raises(RegisterError):
        register.last_photo()
    with closing(sqlite3.connect(register.path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    assert "photos" not in tables


def test_entry_that_fails_half_way_leaves_nothing(register, completed):
    register.last_photo()
    contents = read_contents(completed)
    checked = Checked(verify(completed), None, AT)
    wrong = Reuse(0, 99, "same-file", None, None, sentence("names a photo that there is not"))
    photos = Intake(register, Desk("desk 2"))
    with pytest.raises(RegisterError):
        register.receive(contents, checked, "desk 2", _hashed(contents), [wrong])
    assert find(register) == []
    assert photos.take(completed).state == "entered"


def _hashed(contents):
    from evidence_app.desk.photos.reuse import hash_contents

    return hash_contents(contents).photos


# Everything is imported with all rights first: the unprivileged user may not be able to read
# the interpreter's folder.
VISITOR = """
import os, sys, tempfile
from pathlib import Path
from evidence_app.desk.photos import index as photo_index
from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.register import Register
from evidence_app.desk.search import find
from evidence_app.errors import EvidenceError
warm = Register(Path(tempfile.mkdtemp()) / "register.db")
Intake(warm, Desk("d")).take(Path(sys.argv[2]))
if os.getuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
register = Register(Path(sys.argv[1]))
print(len(find(register)), "found")
try:
    Intake(register, Desk("desk 2"))
except EvidenceError as error:
    print(error.sentence())
"""


def test_read_only_register_can_be_searched_and_not_written(filled, completed, tmp_path_factory):
    folder = Path("/tmp") / f"evidence-read-only-{os.getpid()}-{time.monotonic_ns()}"
    shutil.copytree(filled.path.parent, folder)
    try:
        for path in (*folder.iterdir(), folder):
            path.chmod(0o555 if path.is_dir() else 0o444)
        command = [sys.executable, "-c", VISITOR, folder / "register.db", completed]
        said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)
    assert said.stderr == ""
    found, refused = said.stdout.splitlines()
    assert found == "1 found"
    assert "may not be written" in refused
