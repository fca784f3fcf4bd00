"""Journals altered at random places, chained and sealed anew: both checkers judge them alike.

More seeds:

    EVIDENCE_APP_FUZZ=500 python -m pytest tests/checker/test_fuzz_alike.py
"""

from __future__ import annotations

import copy
import os
import random
from pathlib import Path
from typing import Any

from evidence_app.errors import PackageError
from evidence_app.package.verify.check import verify
from tests.checker.test_agreement import compare
from tests.hostile.bag import Bag

SEEDS = int(os.environ.get("EVIDENCE_APP_FUZZ", "40"))
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


def test_altered_journals_are_judged_alike(sound, core, tmp_path):
    wrong = []
    for seed in range(SEEDS):
        path = tmp_path / f"{seed:04d}.zip"
        path.write_bytes(altered(Bag.read(sound[0]), seed).zip())
        try:
            compare(judged(path), core(path))
        except (AssertionError, KeyError) as error:
            wrong.append(f"{path.stem}: {str(error)[:300]}")
    assert not wrong, "\n".join(wrong)


def judged(path: Path):
    try:
        return verify(path, compare_pictures=False)
    except PackageError:
        return None
