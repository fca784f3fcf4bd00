"""How often the screen is touched in a whole job, of what the job asks for.

    python -m tests.bench touches [--sessions NAME ...]

The sample sessions are played in a real window, from the start screen to the closed job. A touch
is a finger put down on the screen; keys of a number or a text are counted apart. What a job asks
for: each caution, item, photo, reading, count, finding, name and note that was recorded, a hold's begin
and its end, each step that was entered and the closing.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections import Counter

from tests.bench._figures import told

GOAL = 1.15
SESSIONS = ("completed", "stopped-at-residue", "retaken-and-gauged")
_ASKED = {
    "caution-acknowledged": "cautions",
    "item-ticked": "items",
    "photo-taken": "photos",
    "photo-kept": "kept photos",
    "reading-entered": "readings",
    "pieces-counted": "counts",
    "hold-started": "holds, begin and end",
    "hold-ended": "holds, begin and end",
    "finding-given": "findings",
    "note-recorded": "notes",
    "note-written": "notes",
    "name-given": "names",
    "step-entered": "steps",
    "job-closed": "closing",
}


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench touches")
    parser.add_argument("--sessions", nargs="+", default=SESSIONS)
    options = parser.parse_args(argv)
    os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    from tests.bench.tablet import _display

    server = _display()
    holds = True
    try:
        for name in options.sessions:
            with tempfile.TemporaryDirectory() as home:
                os.environ["EVIDENCE_APP_HOME"] = home
                holds &= _report(name)
    finally:
        if server is not None:
            server.terminate()
            server.wait()
    sys.stdout.flush()
    os._exit(0 if holds else 1)  # the window ends with the process


def _report(name: str) -> bool:
    from evidence_app.locations import sample
    from evidence_app.practice.clock import PracticeClock
    from evidence_app.practice.session import load_session
    from tests.tablet.driver import Driver

    session = load_session(sample(f"{name}.session.toml"))
    driver = Driver(size=(1280, 800), clock=PracticeClock(session.begins))
    driver.looks_again = False
    touched: Counter[str] = Counter()
    touch = driver.touch

    def counted(action: str) -> None:
        touched[f"{driver.screen}: {action.split(' ')[0]}"] += 1
        touch(action)

    driver.begin(name)
    driver.touch = counted
    driver.play(session)
    kinds = Counter(_ASKED[e.kind] for e in driver.job.record.events if e.kind in _ASKED)
    driver.end()
    typed = sum(count for action, count in touched.items() if action.startswith("entry: key"))
    touches, asked = touched.total() - typed, kinds.total()
    told(name, touches / asked, "", asked)
    print(f"{name}: {touches} touches and {typed} of keys for {asked} asked, ratio {touches / asked:.2f}")
    print("  asked:", ", ".join(f"{count} {kind}" for kind, count in kinds.most_common()))
    print("  touches:", ", ".join(f"{count} {action}" for action, count in touched.most_common()))
    return touches <= GOAL * asked
