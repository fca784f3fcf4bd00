"""The desk's commands as its users type them."""

from __future__ import annotations

import shutil
import sqlite3
import sys

import duckdb
import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.package.keys.signing_key import open_key
from tests.asking import REASON, files_of, listing
from tests.making import SUPERVISOR

PIN = "604192"


@pytest.fixture
def run(tmp_path, monkeypatch, completed, stopped):
    """Runs a line in a folder that holds completed.zip and stopped.zip."""
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("EVIDENCE_APP_PIN", PIN)
    monkeypatch.chdir(tmp_path)
    shutil.copy(completed, "completed.zip")
    shutil.copy(stopped, "stopped.zip")

    def run(*words: str, status: int = 0) -> str:
        done = CliRunner().invoke(main, [str(word) for word in words])
        assert done.exit_code == status, done.output
        return done.output

    return run


def test_intake_then_list(run):
    assert "2 entered, 0 known, 0 not received" in run("desk", "intake", "--without-measuring", ".")
    said = run("desk", "list", "--outcome", "stopped")
    assert "NQ-2026-0200" in said
    assert "1 packages" in said


def test_intake_measures_again_unless_told_otherwise(run):
    """The sound package's gap was made up for the tests."""
    run("desk", "intake", "completed.zip", status=1)
    assert "measured again" in run("desk", "show", "1")
    run("desk", "intake", "--check-again", "--without-measuring", "completed.zip")


def test_intake_of_what_is_not_there(run, tmp_path):
    (tmp_path / "empty").mkdir()
    said = run("desk", "intake", "--without-measuring", "gone.zip", "empty", "completed.zip", status=2)
    assert "gone.zip: not received: there is no such file or folder. Check" in said
    assert "empty: not received: there is no package in this folder. Choose" in said
    assert "1 entered, 0 known, 2 not received" in said


def test_show_compares_what_is_typed(run):
    run("desk", "intake", "--without-measuring", "completed.zip")
    assert "is the one in the package" in run("desk", "show", "1", "--serial", "h7-004211")
    said = run("desk", "show", "1", "--claim", "NQ-2026-0118", status=1)
    assert "the claim number is another one: given NQ-2026-0118, in the package NQ-2026-0117" in said


def test_altered_file_shows_both_checksums(run, tmp_path):
    from tests.hostile.make import ATTACKS, build

    path = build(ATTACKS["photo-byte-altered"], tmp_path / "completed.zip", tmp_path).path
    run("desk", "intake", "--without-measuring", path, status=1)
    said = run("desk", "show", "1").splitlines()
    place = next(n for n, line in enumerate(said) if "altered: data/photos/" in line)
    assert "(step inspect-slot)" in said[place]
    assert [said[place + n].split()[0] for n in (1, 2)] == ["expected", "found"]
    assert said[place + 1].split()[1] != said[place + 2].split()[1]


def test_decision_and_review_reach_the_register(run):
    run("keys", "make", "supervisor.pem")
    run("desk", "intake", "--without-measuring", "stopped.zip")
    run("desk", "decide", "1", "passed-to-supervisor", "--reason", "residue", "--by", "desk 2")
    said = run("review", "stopped.zip", "--decide", "agree", "--supervisor", SUPERVISOR,
               "--key", "supervisor.pem")  # fmt: skip
    assert "entered in the register as of package 1" in said
    shown = run("desk", "show", "1")
    assert "desk 2  ·  decided: passed to the supervisor – residue" in shown
    assert f"{SUPERVISOR}  ·  countersigned: agreed" in shown


def test_more_is_asked_for_in_a_folder_for_the_tablet(run, tmp_path):
    run("keys", "make", "supervisor.pem")
    listing(tmp_path, open_key(tmp_path / "supervisor.pem", PIN))
    asking = (
        "--decide",
        "ask-for-more",
        "--reason",
        REASON,
        "--supervisor",
        SUPERVISOR,
        "--key",
        "supervisor.pem",
    )
    said = run("review", "stopped.zip", *asking, "--want", "inspect-slot", "--keys", "keys.toml")
    assert "for the tablet's disk: stopped.more-1" in said
    assert [path.exists() for path in files_of(tmp_path / "stopped.more-1")] == [True] * 3
    assert "holds" in run(
        "ticket", "check", files_of(tmp_path / "stopped.more-1")[1], "--keys", "keys.toml"
    )


def test_review_alone_signs_nothing(run, tmp_path):
    assert "Rule: slot-residue" in run("review", "stopped.zip")
    assert list(tmp_path.glob("*countersign*")) == []


def test_countersign_without_a_key_is_refused(run):
    assert (
        "give --supervisor and --key" in run("review", "stopped.zip", "--decide", "agree", status=2).lower()
    )


def test_export_does_not_replace_a_file(run, tmp_path):
    run("desk", "intake", "--without-measuring", ".")
    run("desk", "export", "--csv", "all.csv", "--json", "all.json")
    before = (tmp_path / "all.csv").read_bytes()
    run("desk", "export", "--csv", "all.csv", status=2)
    assert (tmp_path / "all.csv").read_bytes() == before


def test_stops_are_told_and_drawn(run, tmp_path):
    run("desk", "intake", "--without-measuring", ".")
    said = run(
        "desk", "stops", "--by", "technician", "--hide-names", "--csv", "s.csv", "--picture", "s.png"
    )
    assert "1 of 2 jobs were stopped" in said
    assert (tmp_path / "s.csv").exists()
    assert (tmp_path / "s.png").exists()


def test_packages_and_work_are_written_as_parquet(run, tmp_path):
    run("desk", "intake", "--without-measuring", ".")
    run("desk", "export", "--parquet", "all.parquet")
    run("desk", "work", "--hide-names", "--parquet", "work.parquet")
    listed = duckdb.sql(
        f"SELECT claim, typeof(photos) FROM '{tmp_path}/all.parquet' ORDER BY claim"
    ).fetchall()
    assert listed == [("NQ-2026-0117", "BIGINT"), ("NQ-2026-0200", "BIGINT")]
    named = duckdb.sql(f"SELECT DISTINCT technician FROM '{tmp_path}/work.parquet'").fetchall()
    assert sorted(named) == [("technician 001",)]


def test_parquet_without_its_library_says_what_installs_it(run, tmp_path, monkeypatch):
    run("desk", "intake", "--without-measuring", ".")
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    said = run("desk", "export", "--parquet", "all.parquet", status=2)
    assert 'pyarrow, which this needs, is not installed. Run: pip install "evidence-app[cluster]".' in said
    assert not (tmp_path / "all.parquet").exists()


def test_photo_index_is_rebuilt(run):
    run("desk", "intake", "--without-measuring", ".")
    assert "0 photos hashed, " in run("desk", "photos", "rebuild")


def test_no_register_yet_is_said(run):
    assert "there is no register here yet" in run("desk", "list", status=2)


def test_damaged_register_is_said_without_a_traceback(run, tmp_path):
    run("desk", "intake", "--without-measuring", "completed.zip")
    path = tmp_path / "home" / "desk" / "register.db"
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode = delete")
    path.write_bytes(path.read_bytes()[:5000])
    assert "the register is damaged" in run("desk", "list", status=2)


def test_name_of_a_file_cannot_steer_the_terminal(run, tmp_path):
    path = tmp_path / "odd\x1b[2J.zip"
    shutil.copy("completed.zip", path)
    for words in (("intake", "--without-measuring", path), ("list",), ("show", "1")):
        assert "\x1b" not in run("desk", *words)
