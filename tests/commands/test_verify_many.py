"""Many packages at once: a process per core, and the same answers in the same order as alone."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from contextlib import suppress

import psutil
import pytest

from tests.package.conftest import sound_package


@pytest.fixture(scope="module")
def packages(tmp_path_factory):
    """A good one, an altered one, one that is none, the good one again; and the key list."""
    folder = tmp_path_factory.mktemp("many")
    good, keys = sound_package(folder)
    data = bytearray(good.read_bytes())
    data[len(data) // 2] ^= 1
    altered, none, again = (folder / name for name in ("altered.zip", "none.zip", "again.zip"))
    altered.write_bytes(data)
    none.write_bytes(b"no package")
    again.write_bytes(good.read_bytes())
    return [good, altered, none, again], keys


def told(terminal, keys, *packages) -> list[dict]:
    return json.loads(terminal.type(f"verify --json --keys {keys} {' '.join(map(str, packages))}").stdout)


def test_answers_are_those_of_each_alone_in_the_order_asked(terminal, packages):
    paths, keys = packages
    alone = [told(terminal, keys, path)[0] for path in paths]
    assert told(terminal, keys, *paths) == alone
    assert [each["exit_status"] for each in alone] == [0, 1, 2, 0]


def test_the_worst_answer_is_the_exit_status_and_all_are_counted(terminal, packages):
    paths, keys = packages
    done = terminal.type(f"verify --keys {keys} {' '.join(map(str, paths))}")
    assert done.exit_code == 2
    assert "4 packages: 2 hold, 1 fail, 1 could not be read" in done.output


def test_the_other_processes_speak_the_language_of_the_command(terminal, packages):
    (good, _, _, again), keys = packages
    english, german = (
        terminal.does(f"--language {language} verify --keys {keys} {good} {again}").splitlines()[0]
        for language in ("en", "de")
    )
    assert english != german
    assert german.split(": ", 1)[1] in terminal.does(f"--language de verify --keys {keys} {good}")


def test_a_killed_process_costs_no_answer(packages):
    (good, *_), keys = packages
    asked = ["verify", "--keys", str(keys), *[str(good)] * 16]
    program = [sys.executable, "-c", "from evidence_app.cli import main; main()"]
    running = subprocess.Popen(program + asked, stdout=subprocess.PIPE, text=True)
    while running.poll() is None:
        with suppress(psutil.Error):  # it went while it was looked at
            begun = psutil.Process(running.pid).children()
            checking = [each for each in begun if "verify.beside" in " ".join(each.cmdline())]
            if checking:
                time.sleep(0.3)  # into its work; whenever it comes, no answer is lost
                checking[0].kill()
                break
    else:
        pytest.fail("it ended before a process could be killed")
    said, _ = running.communicate()
    assert "16 packages: 16 hold, 0 fail, 0 could not be read" in said
