"""The demo from beginning to end, as the README gives it: ``python -m tests.bench demo [--rounds 5]``."""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time

from tests.bench._figures import middle

TARGET_S = 60


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench demo")
    parser.add_argument("--rounds", type=int, default=5)
    rounds, taken = parser.parse_args(argv).rounds, []
    for _ in range(rounds):
        with tempfile.TemporaryDirectory() as folder:
            began = time.perf_counter()
            command = [sys.executable, "-m", "evidence_app.cli", "demo"]
            subprocess.run(command, cwd=folder, check=True, stdout=subprocess.DEVNULL)
            taken.append(time.perf_counter() - began)
    seconds = middle("seconds", taken, "s")
    print(f"the demo, median of {rounds}: {seconds:.0f} s (target {TARGET_S})")
    return int(seconds > TARGET_S)
