"""What holds for every test: none fails because the machine is busy, and none waits for a disk."""

from __future__ import annotations

import gc
import os
import shutil
from pathlib import Path

import psutil
from hypothesis import settings

settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")

# Checks of English words hold wherever the tests run; those of another language ask for it.
os.environ["LANGUAGE"] = "en"

# Workers beside each other share the cores already: threads that wait for their turn by spinning
# take it from the other worker.
if "PYTEST_XDIST_WORKER" in os.environ:
    for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM"):
        os.environ.setdefault(threads, "1")

_BEGUN_FIRST = ("test_no_touch.py", "test_voice_session.py", "test_own_voice.py")

_MEMORY = Path("/dev/shm")
_ROOM = 4 * 10**9
"""Bytes that must be free there, and as many again in the machine; a run fills about a tenth of it."""


def pytest_configure() -> None:
    """The tests' folders stand in memory where there is room. What is made safe on a disk is made
    safe thousands of times, and on a slow disk the tests would mostly wait for that."""
    if not _MEMORY.is_dir() or os.statvfs(_MEMORY).f_flag & os.ST_NOEXEC:
        return
    free = min(shutil.disk_usage(_MEMORY).free, psutil.virtual_memory().available - _ROOM)
    if free >= _ROOM and os.access(_MEMORY, os.W_OK):
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(_MEMORY))


def pytest_collection_modifyitems(items: list) -> None:
    """What lasts as long as what is said in it begins first: at the end nothing would run beside it."""
    items.sort(key=lambda item: item.path.name not in _BEGUN_FIRST)


def pytest_collection_finish() -> None:
    """All that is loaded stays to the end: the collector need not walk it again and again, which was
    a fifth of the work of a test before the tablet's screens."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 10, 10)
