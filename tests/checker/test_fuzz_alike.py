"""Journals altered at random places, chained and sealed anew: both checkers judge them alike.

The page's core runs in node here, many times faster than in a browser. More seeds:

    EVIDENCE_APP_FUZZ=500 python -m pytest tests/checker/test_fuzz_alike.py
"""

from __future__ import annotations

import copy
import json
import os
import random
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from evidence_app.errors import PackageError
from evidence_app.locations import asset
from evidence_app.package.verify.check import verify
from tests.checker.test_agreement import compare
from tests.hostile.bag import Bag

SEEDS = int(os.environ.get("EVIDENCE_APP_FUZZ", "40"))
JUDGE = Path(__file__).with_name("judge.mjs")
VALUES = (None, True, False, 0, -1, 1, 1.5, 1e15, "", " ", "x", "9", "0.30", "é" * 5000, [], {}, ["x"])


def altered(bag: Bag, seed: int) -> Bag:
    """One or two values of the journal exchanged, removed, added or moved."""
    chance = random.Random(seed)
    events = copy.deepcopy(bag.events)
    for _ in range(chance.choice((1, 1, 2))):
        kind = chance.randrange(10)
        at = chance.randrange(len(events))
        if kind == 0 and len(events) > 3:
            del events[at]
        elif kind == 1:
            events.insert(at, copy.deepcopy(chance.choice(events)))
        else:
            change(chance, events[at])
    return bag.rechain(events)


def change(chance: random.Random, event: dict[str, Any]) -> None:
    holder, key = chance.choice(list(places(event)))
    if isinstance(holder, dict) and chance.random() < 0.2:
        del holder[key]
    elif isinstance(holder, dict) and chance.random() < 0.1:
        holder["more"] = chance.choice(VALUES)
    else:
        holder[key] = chance.choice(VALUES)


def places(value: Any):
    """Every place inside an event whose value can be exchanged."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, each in list(inner):
        yield value, key
        if isinstance(each, dict | list) and each:
            yield from places(each)


@pytest.mark.skipif(shutil.which("node") is None, reason="node runs the page's core here")
def test_altered_journals_are_judged_alike(sound, tmp_path):
    paths = []
    for seed in range(SEEDS):
        path = tmp_path / f"{seed:04d}.zip"
        path.write_bytes(altered(Bag.read(sound[0]), seed).zip())
        paths.append(path)
    command = ["node", JUDGE, asset("checker.html"), *paths]
    done = subprocess.run(command, capture_output=True, check=True, text=True)
    wrong = []
    for path, line in zip(paths, done.stdout.splitlines(), strict=True):
        told = json.loads(line)
        try:
            compare(judged(path), told["result"])
        except (AssertionError, KeyError) as error:
            wrong.append(f"{path.stem}: {str(error)[:300]} {told.get('failure', '')}")
    assert not wrong, "\n".join(wrong)


def judged(path: Path):
    try:
        return verify(path, compare_pictures=False)
    except PackageError:
        return None
