"""Every command that the documents show is run, as it stands, in a copy of the checkout.

``.venv`` there is the environment of the tests. The format page has its own test
(outside/test_package_format.py). The two set-up lines are not run
again by the tests that they start: the second is what the continuous run calls.

The demo is played once for all tests, as the README says it, in a network namespace without
interfaces where the system lets it: `unshare` is of util-linux, the namespace is the kernel's
(network_namespaces(7)).
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.once import once

ROOT = Path(__file__).resolve().parent.parent
PAGES = ("README.md", "assets/working.md", "DEVELOPERS.md")
SETUP = "sh .ci/setup"


# Retired words, where a person reads of the unit, its paper and the hurt it can do.
RETIRED = re.compile(
    r"\b(gravely|aslant of|in so many words|said to be so|on the ticket|with the ticket"
    r"|seed document|checklist|start proof of)\b",
    re.IGNORECASE,
)
READ = ("README.md", "assets/*.md", "sample_sessions/*.toml")


# What the app itself no longer says, wherever it says it.
RETIRED_IN_THE_APP = re.compile(
    r"\b(rub out|put the job down|taken up again|from the shelf|still owed|is owed|things owed"
    r"|empty the form|ticket of the depot|look yourself|stands already|is no day|own way"
    r"|begun again as often|work on the device|serial number of the device|device batch"
    r"|the clock that cannot be set|another way than the list|kept all the same)\b",
    re.IGNORECASE,
)
# The words of reports are held by the packages that were sealed with them
# (tests/package/verify/test_released.py).
WORDED_BEFORE = ("job/summary/", "package/report/")


def test_the_app_says_no_retired_word():
    found = {}
    for path in (ROOT / "evidence_app").rglob("*"):
        here = path.relative_to(ROOT / "evidence_app").as_posix()
        if path.suffix not in (".py", ".html") or here.startswith(WORDED_BEFORE):
            continue
        for each in spoken(path):
            if words := RETIRED_IN_THE_APP.findall(each):
                found.setdefault(here, set()).update(words)
    assert found == {}


def spoken(path: Path) -> list[str]:
    """The texts of a file: a template's own, or a module's literals without its docstrings."""
    text = path.read_text("utf-8")
    if path.suffix == ".html":
        return [text]
    tree = ast.parse(text)
    said = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    with_docstring = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    docs = {ast.get_docstring(n, clean=False) for n in ast.walk(tree) if isinstance(n, with_docstring)}
    return [each for each in said if each not in docs]


def test_no_page_and_no_step_list_has_a_retired_word():
    found = {
        path.name: sorted(set(words))
        for pattern in READ
        for path in ROOT.glob(pattern)
        if (words := RETIRED.findall(path.read_text("utf-8")))
    }
    assert found == {}


def commands(page: str) -> list[str]:
    """The indented lines of a page, outside lists; consecutive ones one by one.

    A line that ends in a backslash, or is followed by a deeper one, goes on.
    """
    found: list[str] = []
    previous = ""
    for line in (ROOT / page).read_text("utf-8").splitlines():
        if line.startswith("    ") and not line.startswith("     "):
            if found and previous.endswith("\\"):
                found[-1] += "\n" + line[4:]
            else:
                found.append(line[4:])
        elif line.startswith("     ") and previous.startswith("    "):
            found[-1] += "\n" + line[4:]
        previous = line
    return found


ALONE = "unshare --net"


class Checkout(NamedTuple):
    """A copy of what a checkout holds, and how the README's line of the demo ended in it."""

    folder: Path
    demo: subprocess.CompletedProcess
    alone: bool
    """Whether the demo had no network."""


@pytest.fixture(scope="module")
def played(tmp_path_factory, worker_id) -> Checkout:
    return once(tmp_path_factory, worker_id, "checkout", play)


def play(folder: Path) -> Checkout:
    for name in (
        "README.md",
        "DEVELOPERS.md",
        "sample_sessions",
        "evidence_app",
        "tests",
        "pyproject.toml",
        ".ci",
    ):
        (folder / name).symlink_to(ROOT / name)
    shutil.copytree(ROOT / "assets", folder / "assets")  # one of the lines writes there
    (folder / ".venv").symlink_to(sys.prefix)
    demo = next(c for c in commands("README.md") if c.endswith("evidence-app demo"))
    line = demo.removeprefix(f"{SETUP} && ")
    alone = run(f"{ALONE} true", folder).returncode == 0
    return Checkout(folder, run(f"{ALONE} {line}" if alone else line, folder), alone)


@pytest.fixture
def checkout(played) -> Path:
    """With the demo's packages in it."""
    assert played.demo.returncode == 0, played.demo.stdout + played.demo.stderr
    return played.folder


def run(command: str, folder: Path) -> subprocess.CompletedProcess:
    environment = {**os.environ, "EVIDENCE_APP_HOME": str(folder / "home"), "COLUMNS": "100"}
    return subprocess.run(
        ["bash", "-c", command],
        cwd=folder,
        capture_output=True,
        text=True,
        env=environment,
        stdin=subprocess.DEVNULL,
    )


def test_the_demo_needs_no_network(played):
    if not played.alone:
        pytest.skip("this user may not make a network namespace")
    routes = run(f"{ALONE} cat /proc/net/route", played.folder).stdout.splitlines()
    assert len(routes) <= 1, "at most the heading: there is no way out"
    assert played.demo.returncode == 0, played.demo.stdout + played.demo.stderr


def test_the_demo_leaves_four_packages_and_what_the_check_said(checkout):
    folder = checkout / "demo-packages"
    assert len(list(folder.glob("*.zip"))) == len(list(folder.glob("*.zip.checked.txt"))) == 4


def test_the_demo_shows_which_file_was_altered(checkout):
    said = next((checkout / "demo-packages" / "altered").glob("*.checked.txt")).read_text("utf-8")
    assert re.search(r"fails +checksums", said) and "data/photos/" in said


def test_the_commands_of_each_page_do_what_they_say(checkout):
    done = set()
    for page in PAGES:
        for command in commands(page):
            if command.startswith(SETUP) or command in done:
                continue
            done.add(command)
            said = run(command, checkout)
            assert said.returncode == 0, f"{page}: {command}\n{said.stdout}{said.stderr}"


def test_the_readme_has_two_set_up_lines_and_the_continuous_run_calls_the_second():
    lines = [c for c in commands("README.md") if c.startswith(SETUP)]
    assert len(lines) == 2
    assert "README.md" in (ROOT / ".ci/run").read_text() and "-m pytest" in lines[1]


def test_every_command_of_the_app_is_named_in_a_document():
    done = run(f"{sys.executable} -m evidence_app.cli --help", ROOT)
    names = re.findall(r"^  ([a-z]+)  ", done.stdout.split("Commands:")[1], re.MULTILINE)
    text = "".join((ROOT / page).read_text("utf-8") for page in PAGES)
    assert [name for name in names if f"evidence-app {name}" not in text] == []
