"""What is made by the first process of the tests that asks for it, and waited for by the others."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

from filelock import FileLock


def once(tmp_path_factory, worker_id: str, name: str, make: Callable[[Path], Any]) -> Any:
    """What ``make(folder)`` gives, made in a new folder ``name``; it can be pickled."""
    base = tmp_path_factory.getbasetemp()
    shared = base if worker_id == "master" else base.parent
    kept = shared / f"{name}.pickle"
    with FileLock(shared / f"{name}.lock"):
        if not kept.exists():
            folder = shared / name
            folder.mkdir()
            kept.write_bytes(pickle.dumps(make(folder)))
        return pickle.loads(kept.read_bytes())
