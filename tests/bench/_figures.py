"""What a benchmark found, in one shape: figures with value, unit, number and spread, and the machine.

A benchmark calls ``told`` or ``compared`` beside what it prints. Under ``--json`` it runs as a
process of its own with a file to tell into (``FIGURES``), because some end with their window;
without that file nothing is kept. ``assets/figures.md`` marks each figure in its rows,

    <!--name-->1.02 (0.97 to 1.05, n = 9)<!--/-->

and ``rewritten`` puts what was told in its place, in the rows of that benchmark alone.
"""

from __future__ import annotations

import datetime
import importlib.metadata
import json
import os
import platform
import re
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

PAGE = Path(__file__).parents[2] / "assets/figures.md"
_ASIDE = ("--folder", "--plot", "--keep")
FIGURES = "EVIDENCE_APP_BENCH_FIGURES"
LEAST_PAIRS = 5
_LIBRARIES = (
    "numpy",
    "opencv-python-headless",
    "faiss-cpu",
    "cryptography",
    "pillow",
    "kivy",
    "onnxruntime",
)
_SPAN = re.compile(r"<!--([a-z0-9-]+)-->(.*?)<!--/-->")
_COMMAND = re.compile(r"`python -m tests\.bench ([a-z_]+)([^`]*)`")


def told(
    name: str, value: float, unit: str = "", n: int = 1, spread: tuple[float, float] | None = None
) -> None:
    """``name``: small letters, digits and hyphens, its own within the benchmark; ``n``: of how many
    the value comes; ``spread``: the least and the greatest of them."""
    assert re.fullmatch(r"[a-z0-9-]+", name), name
    if path := os.environ.get(FIGURES):
        figure = {"name": name, "value": float(value), "unit": unit, "n": int(n),
                  "spread": [float(each) for each in spread] if spread else None}  # fmt: skip
        with open(path, "a", encoding="utf-8") as file:
            file.write(json.dumps(figure) + "\n")


def key_of(title: str) -> str:
    """A figure's name made of what a table calls it."""
    return re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")


def middle(name: str, values: Sequence[float], unit: str, factor: float = 1.0) -> float:
    """Tells the median of ``values`` times ``factor`` with its spread; gives it back."""
    found = [value * factor for value in values]
    told(name, statistics.median(found), unit, len(found), (min(found), max(found)))
    return statistics.median(found)


def compared(name: str, ours: Sequence[float], bare: Sequence[float]) -> float:
    """The median over pairs, taken in turn, of ours to bare; told as a ratio only from
    ``LEAST_PAIRS`` pairs on, else its name says that they were few."""
    ratios = [one / other for one, other in zip(ours, bare, strict=True)]
    return middle(name if len(ratios) >= LEAST_PAIRS else f"{name}-of-few", ratios, "")


def measured(name: str, argv: Sequence[str]) -> tuple[int, dict]:
    """Runs a benchmark, its text on stderr; its exit status and its result."""
    command = [sys.executable, "-m", "tests.bench", name, *argv]
    with tempfile.TemporaryDirectory() as folder:
        told_in = Path(folder) / "figures.jsonl"
        status = subprocess.run(
            command, stdout=sys.stderr, env=os.environ | {FIGURES: str(told_in)}
        ).returncode
        lines = told_in.read_text("utf-8").splitlines() if told_in.exists() else []
    return status, {
        "name": name,
        "command": " ".join(("python -m tests.bench", name, *argv)),
        "at": datetime.date.today().isoformat(),
        "figures": [json.loads(line) for line in lines],
        "machine": machine(),
        "versions": versions(),
    }


def machine() -> dict:
    """What the figures depend on; ``load`` is that of the last minute, for how busy it was."""
    import psutil

    try:
        system = platform.freedesktop_os_release()["PRETTY_NAME"].partition(" (")[0]
    except OSError:
        system = f"{platform.system()} {platform.release()}"
    return {
        "cores": os.cpu_count(),
        "memory_gb": round(psutil.virtual_memory().total / 1e9, 1),
        "system": system.replace("GNU/Linux ", ""),
        "architecture": platform.machine(),
        "python": platform.python_version(),
        "load": round(os.getloadavg()[0], 1),
    }


def versions() -> dict[str, str]:
    found = {}
    for name in ("evidence-app", *_LIBRARIES):
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            continue
    return found


def words(figure: dict) -> str:
    """A figure as it stands in the page."""
    unit = f" {figure['unit']}" if figure["unit"] else ""
    text = f"{_short(figure['value'])}{unit}"
    if figure["spread"]:
        low, high = map(_short, figure["spread"])
        return f"{text} ({low} to {high}, n = {figure['n']})"
    return text if figure["n"] == 1 else f"{text} (n = {figure['n']})"


def rewritten(page: str, result: dict) -> str:
    """The page with the figures of ``result`` in the rows of its very command; every other line as
    it was. A row of which something was told says when and where in its last column."""
    found = {figure["name"]: words(figure) for figure in result["figures"]}
    machine = result["machine"]
    where = f"{result['at']}, {machine['cores']} cores, Python {machine['python'].rpartition('.')[0]}"
    lines = page.split("\n")
    for at, line in enumerate(lines):
        command = _row_command(line)
        if command is None or command != _same_work(result["command"].split()[3:]):
            continue
        if not any(span[1] in found for span in _SPAN.finditer(line)):
            continue
        line = _SPAN.sub(lambda span: f"<!--{span[1]}-->{found.get(span[1], span[2])}<!--/-->", line)
        lines[at] = f"{line[: line.rstrip(' |').rindex('|')]}| {where} |"
    return "\n".join(lines)


def _row_command(line: str) -> list[str] | None:
    """Name and options of the benchmark that a row of the page's tables is of."""
    command = _COMMAND.search(line) if line.startswith("|") else None
    return [command[1], *command[2].split()] if command else None


def _same_work(words: list[str]) -> list[str]:
    """A command without what only says where to work and what to draw: a run with other sizes
    is another row's, if it is any's."""
    aside = [at for at, word in enumerate(words) if word in _ASIDE]
    return [word for at, word in enumerate(words) if at not in aside and at - 1 not in aside]


def commands(page: str) -> list[list[str]]:
    """The benchmarks of the page's rows, each with its options, once."""
    found = [command for line in page.split("\n") if (command := _row_command(line))]
    return [each for at, each in enumerate(found) if each not in found[:at]]


def marked(page: str, command: list[str]) -> set[str]:
    """The names of the figures that are marked in the rows of a command."""
    rows = (line for line in page.split("\n") if _row_command(line) == _same_work(command))
    return {span[1] for row in rows for span in _SPAN.finditer(row)}


def _short(value: float) -> str:
    """Three figures, whole numbers whole, with a comma at thousands."""
    if value == int(value) or abs(value) >= 100:
        return f"{value:,.0f}"
    return f"{value:.3g}" if abs(value) >= 0.001 else f"{value:.1g}"
