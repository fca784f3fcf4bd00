"""Benchmarks: ``python -m tests.bench NAME [options]``; without a name, the list.

Each module here has ``main(argv) -> int`` and prints ratios measured in one run.
They are never part of the tests' verdict.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys
from pathlib import Path


def main(argv: list[str]) -> int:
    names = sorted(
        m.name for m in pkgutil.iter_modules([str(Path(__file__).parent)]) if not m.name.startswith("_")
    )
    if not argv or argv[0] not in names:
        print("benchmarks:", ", ".join(names))
        return 0 if not argv else 2
    return importlib.import_module(f"tests.bench.{argv[0]}").main(argv[1:])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
