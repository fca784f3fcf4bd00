"""What checking found is said in the reader's language, long after it was found."""

from __future__ import annotations

import json
import sqlite3
import subprocess
from contextlib import closing

import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from tests.making import make_package


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """Types a command at a desk that has received a sound package and an altered one."""
    folder = tmp_path_factory.mktemp("desk")
    sound = make_package(folder, claim="The bag").path
    altered = folder / "altered.zip"
    data = bytearray(sound.read_bytes())
    data[len(data) // 2] ^= 1
    altered.write_bytes(data)

    def type_(line: str) -> str:
        where = {"EVIDENCE_APP_HOME": str(folder / "home")}
        return CliRunner().invoke(main, line.split(), env=where).output

    type_(f"desk intake --without-measuring --by clerk {sound} {altered}")
    type_.package = sound
    type_.register = folder / "home" / "desk" / "register.db"
    return type_


def test_overall_lines_and_checks_are_said_in_german(desk):
    listed, shown = desk("--language de desk list"), desk("--language de desk show 2")
    assert "Prüfungen" in listed and "checks that were made" not in listed
    told = desk("desk show 2").splitlines()
    english = [line for line in told if line.startswith("    holds ")]
    assert english and not [line for line in english if line in shown]


def test_why_a_file_could_not_be_read_is_said_in_german(desk):
    cut = desk.package.with_name("cut.zip")
    cut.write_bytes(desk.package.read_bytes()[:5000])
    desk(f"desk intake --without-measuring --by clerk {cut}")
    why = "das Paket ist abgeschnitten"
    assert "the package is cut short" in desk("desk show 3") and why in desk("--language de desk show 3")


def test_outcomes_and_decisions_are_said_in_german(desk):
    desk("desk decide 1 passed-to-supervisor --reason why --by clerk")
    listed, shown = desk("--language de desk list"), desk("--language de desk show 1")
    assert "  abgeschlossen  " in listed and "completed" not in listed + shown
    for told in (listed, shown):
        assert "passed" not in told
    assert "entschieden: an die Aufsicht weitergegeben – why" in shown


def test_print_speaks_the_programs_language(desk):
    for spoken, said in (("en", "Repair completed"), ("de", "Reparatur abgeschlossen")):
        pdf = desk.package.with_name(f"{spoken}.pdf")
        desk(f"--language {spoken} desk print {desk.package} {pdf}")
        text = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, check=True).stdout.decode()
        assert said in text


def test_what_a_person_wrote_stays_in_it(desk):
    assert "The bag" in desk("--language de desk show 1")


def test_result_of_an_older_register_is_said_as_it_was_kept(desk):
    before = desk("desk show 1")
    with closing(sqlite3.connect(desk.register)) as register:
        triggers = register.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            register.execute(f"DROP TRIGGER {name}")
        found = json.loads(register.execute("SELECT json FROM results WHERE package = 1").fetchone()[0])
        del found["worded"]
        register.execute("UPDATE results SET json = ? WHERE package = 1", [json.dumps(found)])
        for _, sql in triggers:
            register.execute(sql)
        register.commit()
    assert desk("desk show 1") == before
