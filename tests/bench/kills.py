"""200 SIGKILLs at random moments of one job: ``python -m tests.bench kills [TIMES] [SEED]``."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from tests.bench._figures import told
from tests.kill.killing import judge, kill_often


def main(argv: list[str]) -> int:
    times = int(argv[0]) if argv else 200
    seed = int(argv[1]) if len(argv) > 1 else 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        begun = time.monotonic()
        told_by = kill_often(folder / "job", times, seed)
        left = judge(folder / "job", folder / "out", told_by)
        print(f"{told_by.kills} kills in {time.monotonic() - begun:.0f} s, seed {seed}")
        print(f"events {left.events}, photos {left.photos}, notes {left.notes}")
        print(f"told safe: {len(told_by.events)} events; lost or changed: {left.lost_events or 'none'}")
        print(f"chain: {left.chain or 'whole'}; originals: {left.damaged or 'as they were'}")
        print(f"notes that lost more than a second: {left.short_notes or 'none'}")
        print(f"package: {left.verified.overall}")
    told("kills", told_by.kills)
    told("lost-events", len(left.lost_events))
    told("damaged", len(left.damaged))
    told("short-notes", len(left.short_notes))
    told("chain-breaks", int(bool(left.chain)))
    told("package-fails", int(bool(left.verified.failed)))
    bad = left.lost_events or left.chain or left.damaged or left.short_notes or left.verified.failed
    return 1 if bad else 0
