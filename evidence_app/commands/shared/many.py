"""Packages checked in a process per core, their answers in the order asked.

A package that ends the process it is checked in (out of memory, killed) is checked once more in
one of its own, so that it fails alone.
"""

import multiprocessing
import os
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

from msgspec import Struct

from evidence_app import language
from evidence_app.errors import EvidenceError
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.digests import Progress
from evidence_app.package.verify.result import VerifyResult, lines, to_json
from evidence_app.sentence import sentence

UNREADABLE = 2
_MOST_AT_ONCE = 8  # each takes up to 120 MB


class Judged(Struct, frozen=True):
    """A package's answer in the language of the command: check by check, in one line, and for
    programs. ``exit_status`` is 0, 1 when a check fails, 2 when it could not be read."""

    exit_status: int
    checks: str
    line: str
    fields: dict[str, Any]


class Against(Struct, frozen=True):
    """What every package is checked against; ``options`` are those of ``check.verify``."""

    known: KeyList | None
    authority: bytes | None
    options: dict[str, Any]


def judged(package: Path, against: Against, progress: Progress | None = None) -> Judged:
    """One package, checked here."""
    try:
        result: VerifyResult = verify(
            package, against.known, against.authority, progress, **against.options
        )
    except EvidenceError as error:
        return _unreadable(package, error)
    line = f"{package}: {language.say(result.overall)}"
    return Judged(result.exit_status, "\n".join(lines(result, language.say)), line, to_json(result))


def judged_at_once(packages: Sequence[Path], against: Against) -> Iterator[Judged]:
    """Each package's answer, in the order of ``packages``, as soon as it is there."""
    left = deque(packages)
    while left:
        with _pool(min(len(left), os.cpu_count() or 1, _MOST_AT_ONCE)) as pool:
            try:
                going = deque(pool.submit(judged, package, against) for package in left)
                while going:
                    answer = going.popleft().result()
                    left.popleft()
                    yield answer
            except BrokenProcessPool:  # by the first that has no answer or by one beside it
                yield _alone(left.popleft(), against)
            finally:
                pool.shutdown(cancel_futures=True)


def _alone(package: Path, against: Against) -> Judged:
    with _pool(1) as pool:
        try:
            return pool.submit(judged, package, against).result()
        except BrokenProcessPool:
            error = EvidenceError(
                sentence("the check ended before it had an answer"),
                where=str(package),
                remedy=sentence("check this package alone, with more memory free"),
            )
            return _unreadable(package, error)


def _pool(workers: int) -> ProcessPoolExecutor:
    # Not by fork, which copies the locks of threads that do not go on in the copy.
    way = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, way, initializer=language.use, initargs=(language.language(),))


def _unreadable(package: Path, error: EvidenceError) -> Judged:
    problem = error.sentence(say=language.say)
    told = language.say(sentence("could not be read: {problem}", problem=problem))
    fields = {"package": str(package), "exit_status": UNREADABLE, "error": error.sentence()}
    return Judged(UNREADABLE, told, told, fields)
