"""Taking packages in behind the page: one batch after the other on a thread of its own."""

import queue
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from msgspec import Struct

from evidence_app.desk.contents import read_contents
from evidence_app.desk.intake import (
    Desk,
    Intake,
    Taken,
    foreign_below,
    listed_below,
    not_received,
    place_of,
)
from evidence_app.desk.register import Register
from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.sentence import sentence

_KEPT = 10
_WATCH_EVERY_S = 2.0


class Batch(Struct):
    """``taken`` so far of the ``count`` packages; ``now`` the name of the one under way, with
    its bytes done and in all, ``turn`` 1 while it is read, 2 while it is checked and measured again."""

    number: int
    by: str
    count: int = 0
    taken: list[Taken] = []
    now: str = ""
    turn: int = 1
    done: int = 0
    total: int = 0
    over: bool = False
    cancelled: bool = False
    trouble: str = ""

    @property
    def numbers(self) -> tuple[int, ...]:
        return tuple(taken.package for taken in self.taken if taken.package is not None)


class _Cancelled(BaseException):
    """Whoever began the batch has ended it; no check takes that for an error of its own."""


class Receiving:
    """``desk_of(name)`` gives what taking in needs, for whoever takes in."""

    def __init__(self, register: Register, desk_of: Callable[[str], Desk]) -> None:
        self._register, self._desk_of = register, desk_of
        self._waiting: queue.Queue[tuple[Batch, list[Path], bool, bool]] = queue.Queue()
        self._cancel = threading.Event()
        self._watched_until = threading.Event()
        self.batches: list[Batch] = []
        self._begun = 0
        self._lock = threading.Lock()
        threading.Thread(target=self._run, daemon=True).start()

    def begin(self, paths: Sequence[Path], by: str, dropped: bool = False, again: bool = False) -> Batch:
        """Take in what is below ``paths``. ``dropped``: these are copies that came through the
        browser, of which one that is here already is not kept twice. ``again``: check once
        more what was received before."""
        with self._lock:
            self._begun += 1
            batch = Batch(self._begun, by, taken=[])
            self.batches = [*self.batches, batch][-_KEPT:]
        self._waiting.put((batch, list(paths), dropped, again))
        return batch

    def cancel(self) -> None:
        """End the batch under way after what was entered so far."""
        self._cancel.set()

    def watch(self, folder: Path | None, by: str) -> None:
        """Take in what is put into ``folder`` from now on; None: watch no more."""
        self._watched_until.set()
        self._watched_until = threading.Event()
        if folder is not None:
            watching = (folder, by, self._watched_until)
            threading.Thread(target=self._watch, args=watching, daemon=True).start()

    def _run(self) -> None:
        while True:
            batch, paths, dropped, again = self._waiting.get()
            self._cancel.clear()
            try:
                self._take_all(batch, paths, dropped, again)
            except _Cancelled:
                batch.cancelled = True
            except EvidenceError as error:
                batch.trouble = error.sentence(say=say)
            except Exception as error:  # the thread has to live on for the next batch
                batch.trouble = f"{type(error).__name__}: {error}"
            batch.now, batch.over = "", True

    def _take_all(self, batch: Batch, paths: list[Path], dropped: bool, again: bool) -> None:
        found = listed_below(paths)
        batch.count = len(found)
        taking = Intake(self._register, self._desk_of(batch.by))
        for each in found:
            if self._cancel.is_set():
                raise _Cancelled
            if isinstance(each, EvidenceError):
                batch.taken.append(not_received(Path(str(each.where)), each))
                continue
            batch.now, batch.turn, batch.done, batch.total = each.name, 1, 0, 0
            place = self._kept_place(each) if dropped else each
            batch.taken.append(taking.take(place, lambda *at: self._told(batch, *at), again))
        batch.taken += foreign_below(paths)

    def _told(self, batch: Batch, done: int, total: int) -> None:
        if self._cancel.is_set():
            raise _Cancelled
        if done < batch.done:
            batch.turn = 2
        batch.done, batch.total = done, total

    def _kept_place(self, path: Path) -> Path:
        """Where the register has this very package already; ``path`` itself when it has not."""
        with suppress(EvidenceError, OSError):
            there = place_of(self._register, read_contents(path))
            if there is not None and there != path:
                path.unlink()
                return there
        return path

    def _watch(self, folder: Path, by: str, until: threading.Event) -> None:
        """A file is taken once it has stayed the same for one round: until then it is copied."""
        seen = _files(folder)
        before: dict[Path, tuple[int, int]] = {}
        while not until.wait(_WATCH_EVERY_S):
            now = _files(folder)
            ready = [path for path, at in now.items() if before.get(path) == at != seen.get(path)]
            before = now
            if ready:
                seen |= {path: now[path] for path in ready}
                self.begin(sorted(ready), by)


def _files(folder: Path) -> dict[Path, tuple[int, int]]:
    found = {}
    with suppress(OSError):
        for path in folder.iterdir():
            with suppress(OSError):
                if path.suffix.lower() == ".zip" and path.is_file():
                    stat = path.stat()
                    found[path] = (stat.st_size, stat.st_mtime_ns)
    return found


def new_folder(below: Path) -> Path:
    """A folder for what is dropped at one time, in which nothing is."""
    while True:
        path = below / f"{time.strftime('%Y%m%d-%H%M%S')}-{time.monotonic_ns() % 10**6:06d}"
        with suppress(FileExistsError):
            path.mkdir(parents=True)
            return path


NO_ROOM = sentence("there is not enough room on the disk for this file")
