"""The page of measured figures: each row names a benchmark, and a run rewrites its own rows only."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from evidence_app.locations import asset

PAGE = asset("figures.md")
WHOLE = {"figures": [{"name": "ratio", "value": 1.0234, "unit": "", "n": 9, "spread": [0.97, 1.05]}],
         "at": "2027-01-02", "machine": {"cores": 3, "python": "3.12.1"}, "versions": {}}  # fmt: skip


def bench(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "tests.bench", *map(str, arguments)]
    return subprocess.run(command, cwd=PAGE.parents[1], capture_output=True, text=True)


def rows(page: str) -> list[str]:
    return [line for line in page.splitlines() if line.startswith("| ") and "python -m" in line]


@pytest.fixture(scope="module")
def measured() -> dict:
    ended = bench("capture", "--photos", "6", "--megabytes", "0.01", "--json")
    assert ended.returncode == 0, ended.stderr
    return json.loads(ended.stdout)


@pytest.fixture
def page(tmp_path) -> Path:
    copy = tmp_path / "figures.md"
    copy.write_text(PAGE.read_text("utf-8"), "utf-8")
    return copy


def result_of(name: str, command: str, folder: Path) -> Path:
    path = folder / "result.json"
    path.write_text(json.dumps({"name": name, "command": command} | WHOLE), "utf-8")
    return path


def test_a_benchmark_tells_its_figures_as_json(measured):
    assert (measured["name"], measured["command"]) == (
        "capture",
        "python -m tests.bench capture --photos 6 --megabytes 0.01",
    )
    (figure,) = measured["figures"]
    assert (figure["name"], figure["unit"], figure["n"]) == ("ratio", "", 6)
    assert figure["spread"][0] <= figure["value"] <= figure["spread"][1]


def test_the_machine_stands_beside_the_figures(measured):
    assert {"cores", "memory_gb", "system", "python", "load"} <= measured["machine"].keys()
    assert {"evidence-app", "numpy"} <= measured["versions"].keys()


def test_every_row_names_a_benchmark_that_exists():
    there = bench().stdout.removeprefix("benchmarks:").replace(",", " ").split()
    named = {row.partition("python -m tests.bench ")[2].partition("`")[0].split()[0] for row in rows(PAGE.read_text("utf-8"))}  # fmt: skip
    assert named and named <= set(there)


def test_every_row_has_its_figures_marked():
    assert [row for row in rows(PAGE.read_text("utf-8")) if "<!--/-->" not in row.split(" | ")[1]] == []


def test_a_result_rewrites_exactly_its_rows(page, tmp_path):
    before = page.read_text("utf-8").splitlines()
    result = result_of("sealing", "python -m tests.bench sealing", tmp_path)
    ended = bench("sealing", "--readme", result, "--page", page)
    assert ended.returncode == 0, ended.stderr
    changed = [(old, new) for old, new in zip(before, page.read_text("utf-8").splitlines(), strict=True) if old != new]  # fmt: skip
    (((old, new)),) = changed
    assert old.startswith("| sealing, report included")
    assert "<!--ratio-->1.02 (0.97 to 1.05, n = 9)<!--/-->" in new
    assert new.endswith("| 2027-01-02, 3 cores, Python 3.12 |")


def test_what_a_result_does_not_tell_is_named(page, tmp_path):
    ended = bench(
        "sealing",
        "--readme",
        result_of("sealing", "python -m tests.bench sealing", tmp_path),
        "--page",
        page,
    )
    assert "not told by this run, left as they were: ratio-without-previews" in ended.stderr


def test_a_run_with_other_sizes_rewrites_nothing(page, tmp_path):
    before = page.read_text("utf-8")
    result = result_of("sealing", "python -m tests.bench sealing --photos 3", tmp_path)
    bench("sealing", "--readme", result, "--page", page)
    assert page.read_text("utf-8") == before


def test_the_result_of_another_benchmark_is_refused(page, tmp_path):
    before = page.read_text("utf-8")
    result = result_of("sealing", "python -m tests.bench sealing", tmp_path)
    ended = bench("capture", "--readme", result, "--page", page)
    assert (ended.returncode, page.read_text("utf-8")) == (2, before)


def test_a_benchmark_that_breaks_rewrites_nothing(page, tmp_path):
    marked = page.read_text("utf-8").replace("bench capture`", "bench capture --photos 0`")
    page.write_text(marked, "utf-8")
    ended = bench("capture", "--photos", "0", "--readme", "--page", page)
    assert (ended.returncode, page.read_text("utf-8")) == (3, marked)
