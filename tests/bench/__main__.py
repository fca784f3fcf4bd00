"""Benchmarks: ``python -m tests.bench NAME [options]``; without a name, the list.

    python -m tests.bench NAME [options] --json                its figures and the machine, as JSON
    python -m tests.bench NAME [options] --readme              measures, then rewrites its rows of assets/figures.md
    python -m tests.bench NAME --readme RESULT.json            the same from what --json printed before
    python -m tests.bench all --json | --readme                every command of the page's rows, one after the other

Each module here has ``main(argv) -> int`` and prints ratios measured in one run.
They are never part of the tests' verdict. ``--page FILE`` takes another page.
"""

from __future__ import annotations

import argparse
import importlib
import json
import pkgutil
import sys
import traceback
from pathlib import Path

from tests.bench import _figures

BROKEN = 3


def names() -> list[str]:
    folder = str(Path(__file__).parent)
    return sorted(m.name for m in pkgutil.iter_modules([folder]) if not m.name.startswith("_"))


def main(argv: list[str]) -> int:
    if not argv or argv[0] not in (*names(), "all"):
        print("benchmarks:", ", ".join(names()))
        return 0 if not argv else 2
    parser = argparse.ArgumentParser(add_help=False, allow_abbrev=False)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--readme", nargs="?", const="", metavar="RESULT.json")
    parser.add_argument("--page", type=Path, default=_figures.PAGE)
    given, options = parser.parse_known_args(argv[1:])
    name = argv[0]
    if given.readme:
        return _rewrite(given.page, json.loads(Path(given.readme).read_text("utf-8")), name)
    if not given.json and given.readme is None and name != "all":
        return _run(name, options)
    runs = _figures.commands(given.page.read_text("utf-8")) if name == "all" else [[name, *options]]
    results, worst = [], 0
    for each, *of_it in runs:
        status, result = _figures.measured(each, of_it)
        results.append(result)
        # A missed target is a figure too; what broke may have told only some.
        if given.readme is not None and status in (0, 1):
            status = max(status, _rewrite(given.page, result, each))
        worst = max(worst, abs(status))
    if given.json or name == "all":
        print(json.dumps(results if name == "all" else results[0], indent=1))
    return worst


def _run(name: str, options: list[str]) -> int:
    """Its exit status: 1 says that a target was missed, ``BROKEN`` that it did not come to its end."""
    try:
        return importlib.import_module(f"tests.bench.{name}").main(options)
    except Exception:
        traceback.print_exc()
        return BROKEN


def _rewrite(page: Path, result: dict, name: str) -> int:
    if result["name"] != name:
        print(f"the result is of {result['name']}, not of {name}", file=sys.stderr)
        return 2
    before = page.read_text("utf-8")
    wanted = _figures.marked(before, result["command"].split()[3:])
    missing = wanted - {figure["name"] for figure in result["figures"]}
    after = _figures.rewritten(before, result)
    page.write_text(after, "utf-8")
    changed = sum(a != b for a, b in zip(before.split("\n"), after.split("\n"), strict=True))
    print(f"{page.name}: {changed} rows rewritten", file=sys.stderr)
    if missing:
        print(f"not told by this run, left as they were: {', '.join(sorted(missing))}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
