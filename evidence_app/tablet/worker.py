"""Threads beside the UI: for the job, the camera, listening, transcripts.

Each does one thing after the other, so that commands reach the job in the order in
which they were given. Answers come back on the UI thread, through ``deliver``.
"""

import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence

_log = logging.getLogger(__name__)

Deliver = Callable[[Callable[[], None]], None]
"""Calls its argument soon, on the UI thread."""


class Worker:
    """``busy`` counts what was given and has not answered yet; ``report`` has a call made on the
    UI thread, from any thread."""

    def __init__(self, deliver: Deliver) -> None:
        self.report = deliver
        self._threads = {
            name: ThreadPoolExecutor(1, thread_name_prefix=f"tablet {name}")
            for name in ("job", "camera", "voice", "transcript")
        }
        self.busy = 0

    def run(
        self,
        work: Callable[[], Any],
        done: Callable[[Any], None] = lambda _: None,
        failed: Callable[[EvidenceError], None] | None = None,
        thread: str = "job",
    ) -> None:
        """Do ``work`` on its thread; then ``done(result)`` or ``failed(error)`` here."""
        self.busy += 1
        self._threads[thread].submit(self._work, work, done, failed)

    def end(self) -> None:
        """Finish what was begun; nothing new is taken."""
        for thread in self._threads.values():
            thread.shutdown(wait=True)

    def _work(self, work, done, failed) -> None:
        try:
            result = work()
        except Exception as error:
            problem = error if isinstance(error, EvidenceError) else _mistake()
            self._answer(lambda: (failed or _unheard)(problem))
        else:
            self._answer(lambda: done(result))

    def _answer(self, call: Callable[[], None]) -> None:
        def counted() -> None:
            self.busy -= 1
            call()

        self.report(counted)


def _mistake() -> EvidenceError:
    """Of the app itself, in what is done just now: logged, and the app goes on."""
    _log.exception("work beside the UI failed")
    return EvidenceError(
        sentence("something went wrong in the app"),
        remedy=sentence("what was recorded is safe; try it again"),
    )


def _unheard(error: EvidenceError) -> None:
    _log.warning("%s", error.sentence())
