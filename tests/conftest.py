"""What holds for every test: none fails because the machine is busy, none waits for a disk, and the
processes that they start need not compile the app again."""

from __future__ import annotations

import compileall
import gc
import importlib.util
import os
import shutil
import sys
from pathlib import Path

import psutil
import pytest
from hypothesis import settings

import evidence_app
from evidence_app.system_calls import give_memory_back

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

_LARGE, _GROWN = 900 * 2**20, 100 * 2**20
"""From how many bytes on, and by how many more, a worker grows before what waits for the collector is
looked for: an error holds the frames that it came through, and they a speech model or photos."""

_size = {"last": _LARGE}


def pytest_configure() -> None:
    """What was compiled is kept, wherever the tests run, and the app is compiled before the workers
    begin: they and hundreds of processes would each do so."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    if "PYTEST_XDIST_WORKER" not in os.environ:
        compileall.compile_dir(Path(evidence_app.__file__).parent, quiet=2)
    _keep_folders_in_memory()


def _keep_folders_in_memory() -> None:
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


def pytest_runtest_logfinish() -> None:
    size = psutil.Process().memory_info().rss
    if size > _size["last"] + _GROWN:
        gc.collect()
        give_memory_back()
        _size["last"] = max(_LARGE, psutil.Process().memory_info().rss)


@pytest.fixture(scope="session")
def engine():
    """The real recogniser, loaded once a process: its model takes 100 MB. Without its optional
    packages there is nothing to test it on."""
    for package in ("onnxruntime", "moonshine_voice"):
        if importlib.util.find_spec(package) is None:
            pytest.skip(f"{package} is not installed")
    if not shutil.which("espeak-ng"):
        pytest.skip("espeak-ng is not installed")
    from evidence_app.voice.understanding.recogniser import SpeechRecogniser

    return SpeechRecogniser()
