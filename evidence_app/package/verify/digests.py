"""SHA-256 of every file of a package, on two processor cores at once.

Each file is read once, in pieces, into a buffer of its worker; hashing lets go
of Python's lock, so the workers run side by side. The ZIP's own CRC-32 values
are not recomputed here: they would add a tenth to the time and say nothing
that SHA-256 does not say better. The directory's judge compares both places
where a CRC stands, and ``unzip -t`` checks it against the bytes.
"""

import hashlib
import os
import sys
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

from evidence_app.package.zip.archive import Archive, Elsewhere, chunks

# Bytes checked so far, bytes altogether. Called in the caller's thread after each
# file; what it raises stops the checking.
Progress = Callable[[int, int], None]

WORKERS = max(2, min(8, os.cpu_count() or 2))
CHUNK = 1 << 20


class Digesting:
    """The digests of all files of a package, made behind the caller's back.

    Work begins at once on all cores but the caller's; :meth:`all` has the caller
    join in. What it does meanwhile costs next to nothing while a disk is waited for.
    """

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        # The largest files go first, so that the workers end together; from elsewhere they go as
        # they lie, so that each stretch is fetched once.
        away = isinstance(archive.path, Elsewhere)
        self._left = deque(sorted(archive.sizes, key=lambda name: 0 if away else -archive.sizes[name]))
        self._digests: dict[str, str] = {}
        self._done = 0
        self._counting = threading.Lock()
        self._own = threading.local()  # of each thread its buffer
        self._stopped = threading.Event()
        self._handover = _QuickHandover()
        self._pool = ThreadPoolExecutor(WORKERS - 1, thread_name_prefix="digest")
        self._tasks = [self._pool.submit(self._work) for _ in range(WORKERS - 1)]

    def all(self, progress: Progress | None = None) -> dict[str, str]:
        """Name of each file to its SHA-256 as 64 hex digits. Raises Unreadable."""
        total = sum(self._archive.sizes.values())
        try:
            self._work(progress and (lambda done: progress(done, total)))
            for task in self._tasks:
                task.result()
            if progress:
                progress(total, total)
        finally:
            self.stop()
        return self._digests

    def stop(self) -> None:
        """End the work, finished or not; a file that is being read is left in the middle."""
        self._stopped.set()
        self._pool.shutdown(cancel_futures=True)
        self._handover.end()

    def _work(self, tell: Callable[[int], None] | None = None) -> None:
        """Digest file after file until none is left, or until one cannot be read."""
        try:
            while (name := self._next()) is not None:
                self._digests[name] = self._digest(name)
                with self._counting:
                    self._done += self._archive.sizes[name]
                if tell:
                    tell(self._done)
        except BaseException:
            self._stopped.set()
            raise

    def _next(self) -> str | None:
        with suppress(IndexError):
            return None if self._stopped.is_set() else self._left.popleft()
        return None

    def _digest(self, name: str) -> str:
        if not hasattr(self._own, "buffer"):
            self._own.buffer = memoryview(bytearray(CHUNK))
        found = hashlib.sha256()
        for chunk in chunks(self._archive, name, self._own.buffer):
            if self._stopped.is_set():
                break
            found.update(chunk)
        return found.hexdigest()


class _QuickHandover:
    """While it lasts, Python's lock is handed over sooner than usual.

    A worker that comes back from hashing a piece waits for the lock as long as
    another thread computes, at most the interpreter's switch interval. The usual
    5 ms are what hashing several pieces takes.
    """

    _INTERVAL_S = 0.00005
    _lock = threading.Lock()
    _lasting = 0
    _usual_s = 0.0

    def __init__(self) -> None:
        self._ended = False
        kind = type(self)
        with kind._lock:
            if not kind._lasting:
                kind._usual_s = sys.getswitchinterval()
                sys.setswitchinterval(self._INTERVAL_S)
            kind._lasting += 1

    def end(self) -> None:
        """Once is enough; the last of those that overlap gives back the usual interval."""
        kind = type(self)
        with kind._lock:
            if not self._ended:
                self._ended = True
                kind._lasting -= 1
                if not kind._lasting:
                    sys.setswitchinterval(kind._usual_s)
