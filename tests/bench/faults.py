"""Every fault of tests/kill/faults.py at every place: python -m tests.bench faults.

Prints for each how often it was tried and met, what was lost of what had been told safe, and
what the one at work was told.
"""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from tests.bench._figures import key_of, told
from tests.kill.faults import FAULTS, run


def main(argv: list[str]) -> int:
    lost = 0
    for name, (fault, places) in FAULTS.items():
        met, said, tracebacks = 0, set(), 0
        before = lost
        for at in places:
            with tempfile.TemporaryDirectory() as folder:
                outcome = run(Path(folder), fault, at)
            met += bool(outcome.said)
            said.add(re.sub(r"/\S+: ", "", outcome.said))
            lost += len(outcome.lost) + bool(outcome.left and outcome.left.verified.exit_status)
            tracebacks += outcome.traceback
        key = key_of(name)
        told(f"{key}-lost", lost - before, "", len(places))
        told(f"{key}-tracebacks", tracebacks, "", len(places))
        print(f"{name}: tried {len(places)}, told {met}, lost {lost - before}, tracebacks {tracebacks}")
        for each in sorted(said - {""}):
            print(f"    {each}")
    return int(lost > 0)
