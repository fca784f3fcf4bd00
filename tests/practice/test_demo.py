"""A session tells what it does in the language asked for, and its numbers as values."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys

import pytest

from evidence_app.locations import sample
from tests.nursery import Nursery

SESSION = "power-loss"
STEPS = 11
SAID = "Both slots are empty. The old linings show wear at the outer lip but no loose threads."


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Language -> what the session tells, from its opening to its end, over its power cuts."""
    nursery = Nursery("tests.practice.small")
    yield {spoken: played(nursery, tmp_path_factory.mktemp(spoken), spoken) for spoken in ("en", "de")}
    nursery.end()


def played(nursery, folder, spoken):
    told, cuts = [], 0
    script = sample(f"{SESSION}.session.toml")
    while True:
        run = nursery.begin("tests.practice.small", script, folder, LANGUAGE=spoken)
        told += [json.loads(line) for line in run]
        if run.ended == 0:
            return told
        assert run.ended == -signal.SIGKILL
        cuts += 1
        assert cuts <= 2


def test_every_line_is_said_in_german(told):
    english = {line["text"] for line in told["en"]}
    assert len(told["de"]) == len(told["en"]) > STEPS
    assert not [line["text"] for line in told["de"] if line["text"] in english]


def test_what_the_technician_says_stays_as_it_is(told):
    assert all(any(SAID in line["text"] for line in lines) for lines in told.values())


def test_steps_are_numbers_in_every_language(told):
    for lines in told.values():
        assert [line["step"] for line in lines if line["step"]] == [[n, STEPS] for n in range(1, STEPS + 1)]


def test_what_is_notable_is_so_in_every_language(told):
    english, german = ([line["notable"] for line in lines] for lines in told.values())
    assert english == german and any(english) and not all(english)


def test_a_script_that_cannot_be_read_is_told_in_german(tmp_path):
    script = tmp_path / "session.toml"
    script.write_text("format = 2\n")
    command = [sys.executable, "-m", "evidence_app.practice.play", script, tmp_path / "jobs"]
    done = subprocess.run(
        command, capture_output=True, encoding="utf-8", env={**os.environ, "LANGUAGE": "de"}
    )
    assert done.returncode == 2 and "Diesen Schlüssel berichtigen" in done.stderr
