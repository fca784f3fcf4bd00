"""Twice the input costs at most about twice the work, however hostile it is.

Work is counted in calls, of Python's own functions too, and not in time: that a reader's cost
grows with the square of its input shows on a small one, on any machine.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from datetime import UTC, datetime

import pytest

from evidence_app.errors import EvidenceError
from evidence_app.package.keys.keylist import DeviceKey, open_key_list, write_key_list
from evidence_app.package.verify.case import Asked, Case, Defective, parse_manifest
from evidence_app.package.verify.check import _CHECKS
from evidence_app.package.zip.archive import open_archive
from evidence_app.steplist.load import loads
from tests.making import DEPOT, STEP_LIST, make_key, make_package

MOST_GROWTH = 2.2
"""For twice the input; a cost that grows with the square gives 4, and is past this soon."""

HEAD, STEPS, REST = STEP_LIST.decode().partition("[[steps]]")
STEP = '[[steps]]\nid = "s{}"\ntitle = "Press"\ninstruction = "Press it."\ncautions = ["sprung-stand"]\n'
LOOK = STEP.replace("{}", "{0}") + (
    '[steps.checkpoint]\nquestion = "Is it?"\n[[steps.checkpoint.photos]]\nid = "p{0}"\n'
    'framing = "It"\n[steps.checkpoint.finding]\nclear = {{ go-on = true }}\n'
    'not-clear = {{ stop = "slot-residue" }}\n'
    'cannot-tell = {{ redo-from = "s0", redo-limit = 2, then-stop = "slot-residue" }}\n'
)
RULE = '[[stop-rules]]\nid = "r{}"\nreason = "It is."\ndisposition = "Exchange."\nprohibitions = ["No."]\n'
STEP_LISTS = {
    "steps": lambda n: HEAD + "".join(map(STEP.format, range(n))) + STEPS + REST,
    "steps of one id": lambda n: HEAD + STEP.format(0) * n + STEPS + REST,
    "checkpoints that lead back to the first": lambda n: (
        HEAD + "".join(map(LOOK.format, range(n))) + STEPS + REST
    ),
    "stop rules that nothing leads to": lambda n: (
        STEP_LIST.decode() + "".join(map(RULE.format, range(n)))
    ),
    "unknown tables": lambda n: STEP_LIST.decode() + "".join(f"[x{i}]\n" for i in range(n)),
    "dots": lambda n: STEP_LIST.decode() + "[" + ".".join("a" * n) + "]\n",
    "brackets": lambda n: STEP_LIST.decode() + "x = " + "[" * n + "]" * n + "\n",
    "quotes": lambda n: STEP_LIST.decode() + 'x = """' + '\\"' * n + "\n",
}


def work(call, *arguments) -> int:
    """How many calls it makes, whatever it answers or refuses."""
    count = 0

    def seen(frame, event, argument):
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(seen)
    try:
        with suppress(EvidenceError, Defective):
            call(*arguments)
    finally:
        sys.setprofile(None)
    return count


@pytest.mark.parametrize("hostile", STEP_LISTS.values(), ids=STEP_LISTS)
def test_a_step_list(hostile):
    once, twice = (work(loads, hostile(n).encode(), "list") for n in (60, 120))
    assert twice <= MOST_GROWTH * once


@pytest.mark.parametrize("line", [f"{'0' * 64}  data/photos/{{}}.jpg", "no line at all", " "])
def test_a_manifest(line):
    lists = ["".join(line.format(i) + "\n" for i in range(n)).encode() for n in (60, 120)]
    once, twice = (work(parse_manifest, data, "manifest") for data in lists)
    assert twice <= MOST_GROWTH * once


def test_a_key_list(tmp_path):
    start, end = (datetime(year, 1, 1, tzinfo=UTC) for year in (2026, 2027))
    counted = []
    for n in (60, 120):
        keys = [DeviceKey(f"{i:064x}", "Lind", f"tablet {i}", start, end) for i in range(n)]
        path = tmp_path / str(n) / "keys.toml"
        path.parent.mkdir()
        write_key_list(path, DEPOT, start, keys, make_key(9))
        counted.append(work(open_key_list, path))
    assert counted[1] <= MOST_GROWTH * counted[0]


@pytest.fixture(scope="module")
def packages(tmp_path_factory):
    folder = tmp_path_factory.mktemp("photos")
    return [make_package(folder / str(n), extra_photos=n).path for n in (40, 80)]


@pytest.mark.parametrize("check", _CHECKS)
def test_a_journal_and_its_photos(packages, check):
    counted = []
    for package in packages:
        case = Case(open_archive(package), Asked())
        # Read and parsed beforehand for all but the first check that needs them.
        for part in ("digests", "events", "step_list"):
            getattr(case, part)
        counted.append(work(_CHECKS[check][0], case))
    assert counted[1] <= MOST_GROWTH * counted[0]


def test_reading_the_lines_of_a_journal(packages):
    cases = [Case(open_archive(package), Asked()) for package in packages]
    once, twice = (work(getattr, case, "events") for case in cases)
    assert twice <= MOST_GROWTH * once
