"""What cannot be used: one clear sentence, status 2, no traceback, nothing lost."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

from evidence_app.job.running.guide import Job
from evidence_app.record.clock import SystemClock
from tests.commands.bench import good_photo, step_list


def test_a_step_list_with_errors_names_each_line(terminal, tmp_path):
    (tmp_path / "bad.toml").write_text(
        step_list().replace('unit = "mm"', "").replace("go-on = true", "go-on = false"), "utf-8"
    )
    said = terminal.refuses("steps check bad.toml")
    assert "no unit" in said and "found none of them" in said
    assert all("bad.toml, line" in line for line in said.splitlines())


def test_a_missing_step_list_is_named(terminal):
    assert "none.toml" in terminal.refuses("steps show none.toml")


def test_an_unknown_job_is_named(terminal):
    assert "nowhere" in terminal.refuses("job show nowhere")


def test_sealing_an_unknown_job_names_it_before_a_key_is_asked_for(terminal):
    assert "nowhere: there is no such job" in terminal.refuses("seal nowhere")


def test_a_truncated_journal_is_left_as_it_is(opened, tmp_path):
    journal = tmp_path / "job" / "journal.db"
    os.truncate(journal, journal.stat().st_size // 2)
    before = journal.read_bytes()
    opened.refuses("job next job")
    assert journal.read_bytes() == before


def test_a_broken_chain_names_the_event(opened, tmp_path):
    connection = sqlite3.connect(tmp_path / "job" / "journal.db")
    for (name,) in connection.execute("select name from sqlite_master where type='trigger'").fetchall():
        connection.execute(f"drop trigger {name}")
    connection.execute("update events set hash = ? where sequence = 2", ("0" * 64,))
    connection.commit()
    connection.close()
    assert "event 2" in opened.refuses("job next job")


def test_a_job_that_another_process_has_open_is_refused(opened, tmp_path):
    with Job.resume(tmp_path / "job", SystemClock()):
        child = subprocess.run(
            [sys.executable, "-m", "evidence_app.cli", "job", "next", "job"],
            cwd=tmp_path,
            capture_output=True,
            text=True,
        )
    assert child.returncode == 2 and child.stderr.count("\n") == 1


def test_a_folder_without_permission_to_write_is_named(terminal, tmp_path):
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o555)
    # Permissions do not bind root; the kernel's own folders do.
    folder = Path("/sys/kernel") if os.geteuid() == 0 else locked
    said = terminal.refuses(f"job open list.toml --serial 1 --claim 1 --technician L --folder {folder}/job")
    assert str(folder) in said


def test_a_file_that_is_no_package_cannot_be_read(terminal, tmp_path):
    (tmp_path / "letter.zip").write_text("Dear clerk,", "utf-8")
    assert "letter.zip" in terminal.refuses("verify letter.zip")


def test_a_reading_that_is_no_number_is_refused(opened):
    assert "0,1" in opened.refuses("job reading job leaf 0,1")


def test_a_reading_outside_its_limits_wants_to_be_meant(opened):
    opened.refuses("job reading job leaf 0.90")
    assert "reading-entered" in opened.does("job reading job leaf 0.90 --outside")


def test_a_photo_that_is_gone_from_the_disk_is_told_each_time(opened, tmp_path):
    (tmp_path / "good.jpg").write_bytes(good_photo())
    opened.does("job photo job slot file:good.jpg")
    (photo,) = (tmp_path / "job" / "originals").rglob("*.jpg")
    photo.unlink()
    assert "is missing" in opened.refuses("job show job", status=1)
    assert f"{photo.stem} is missing" in opened.does("job note job --text 'going on'")


def test_a_lost_event_is_told_when_the_job_is_shown(opened, tmp_path):
    with sqlite3.connect(tmp_path / "job" / "journal.db") as connection:
        connection.execute("drop trigger events_are_not_deleted")
        connection.execute("delete from events where sequence = 4")
    connection.close()
    assert "event 5" in opened.refuses("job show job", status=1)


def test_a_sentence_that_ends_with_a_question_gets_no_full_stop(opened):
    assert "?." not in opened.refuses("job next job")


def test_a_full_disk_leaves_no_half_written_file(terminal, tmp_path):
    limited = (
        "import resource, signal, sys; from evidence_app.cli import main; "
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN); "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000)); main()"
    )
    child = subprocess.run(
        [sys.executable, "-c", limited, "card", "card.pdf"], cwd=tmp_path, capture_output=True, text=True
    )
    assert child.returncode == 2
    assert child.stderr == (
        "evidence-app: card.pdf: the disk is full; nothing was lost and no "
        "half-written file was left. Free some space on that disk and try "
        "again.\n"
    )
    assert list(tmp_path.glob("*card.pdf*")) == []


def test_a_file_that_is_there_is_not_written_over(terminal, tmp_path):
    (tmp_path / "card.pdf").write_text("the batch of last week", "utf-8")
    assert "card.pdf: the file cannot be written: there is one of this name already" in (
        terminal.refuses("card card.pdf")
    )
    assert (tmp_path / "card.pdf").read_text("utf-8") == "the batch of last week"
