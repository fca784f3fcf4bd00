"""A package checked in a process beside this one, which a package can end without harm.

What takes too long, or the machine's memory, ends that process and nothing else; the next package
gets another one. It is kept from package to package, since it takes longer to start than most
checks, and ends itself at the limit, so also when whoever started it was killed.
"""

import faulthandler
import os
import pickle
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from subprocess import PIPE, Popen
from typing import Any, TypeVar

from msgspec import structs

from evidence_app.errors import EvidenceError
from evidence_app.package.verify.case import Asked
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.digests import Progress
from evidence_app.package.verify.result import VerifyResult
from evidence_app.package.zip.archive import Elsewhere
from evidence_app.sentence import sentence

# Not from the current folder, where anything may lie.
_COMMAND = [sys.executable, "-P", "-m", "evidence_app.package.verify.beside"]
_own = threading.local()
Came = VerifyResult | EvidenceError  # the result, or why the package could not be read
T = TypeVar("T")


def verified(place: Path | Elsewhere, asked: Asked, progress: Progress | None = None) -> Came:
    """What came of ``verify``, made here."""
    try:
        return verify(place, progress=progress, **structs.asdict(asked))
    except EvidenceError as error:
        return error


def verified_beside(place: Path | Elsewhere, asked: Asked) -> Came:
    """As ``verified``, in this thread's process."""
    return done_beside(verified, place, asked)


def done_beside(
    work: Callable[..., T], place: Path | Elsewhere, *asked: Any, time_limit: float = 1e6
) -> T | EvidenceError:
    """``work(place, *asked)``, a function of a module, in this thread's process and within
    ``time_limit`` seconds; the error it raised, or why it has no answer. A process that ends before
    them may have been ended for what another one did: the package is checked once more."""
    begun = time.monotonic()
    what = sentence("the check ended before it had an answer")
    remedy = sentence("check this package alone, with more time and memory")
    for _ in range(2):
        came = _answer(work, time_limit, place, *asked)
        if came is not None:
            return came
        if time.monotonic() - begun >= time_limit:
            what = sentence("the check was ended after {seconds:g} seconds", seconds=time_limit)
            break
    return EvidenceError(what, where=str(place), remedy=remedy)


def _answer(*task: object) -> Any:
    """What this thread's process answers; None when it ended instead."""
    process = getattr(_own, "process", None)
    if process is None or process.poll() is not None:
        process = _own.process = Popen(_COMMAND, stdin=PIPE, stdout=PIPE)
    assert process.stdin and process.stdout
    try:
        pickle.dump(task, process.stdin)
        process.stdin.flush()
        return pickle.load(process.stdout)
    except (EOFError, OSError, pickle.UnpicklingError):
        process.kill()
        process.wait()
        return None


def _serve() -> None:
    """Answer for each package that comes in, until nobody is there to ask."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints must not stand among the answers
    with suppress(OSError):  # of all processes this one is to go when memory runs out; Linux
        Path("/proc/self/oom_score_adj").write_text("500")
    with open(os.devnull, "w") as nowhere, suppress(EOFError, BrokenPipeError, KeyboardInterrupt):
        while True:
            work, time_limit, *given = pickle.load(sys.stdin.buffer)
            faulthandler.dump_traceback_later(time_limit, exit=True, file=nowhere)
            try:
                came = work(*given)
            except EvidenceError as error:
                came = error
            faulthandler.cancel_dump_traceback_later()
            pickle.dump(came, answers)
            answers.flush()


if __name__ == "__main__":
    _serve()
