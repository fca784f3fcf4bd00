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
from contextlib import suppress
from pathlib import Path
from subprocess import PIPE, Popen

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


def verified(place: Path | Elsewhere, asked: Asked, progress: Progress | None = None) -> Came:
    """What came of ``verify``, made here."""
    try:
        return verify(place, progress=progress, **structs.asdict(asked))
    except EvidenceError as error:
        return error


def verified_beside(place: Path | Elsewhere, asked: Asked, time_limit: float = 1e6) -> Came:
    """As ``verified``, in this thread's process, within ``time_limit`` seconds. A process that ends
    before them may have been ended for what another one did: the package is checked once more."""
    begun = time.monotonic()
    what = sentence("the check ended before it had an answer")
    remedy = sentence("check this package alone, with more time and memory")
    for _ in range(2):
        came = _answer(place, asked, time_limit)
        if came is not None:
            return came
        if time.monotonic() - begun >= time_limit:
            what = sentence("the check was ended after {seconds:g} seconds", seconds=time_limit)
            break
    return EvidenceError(what, where=str(place), remedy=remedy)


def _answer(*task: object) -> Came | None:
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
            place, asked, time_limit = pickle.load(sys.stdin.buffer)
            faulthandler.dump_traceback_later(time_limit, exit=True, file=nowhere)
            came = verified(place, asked)
            faulthandler.cancel_dump_traceback_later()
            pickle.dump(came, answers)
            answers.flush()


if __name__ == "__main__":
    _serve()
