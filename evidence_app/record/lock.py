"""One process at a time per job: a lock of the operating system, gone when its process is gone."""

from __future__ import annotations

import os
from contextlib import AbstractContextManager, suppress
from pathlib import Path

from filelock import FileLock, Timeout

from evidence_app.errors import JobInUse, RecordError
from evidence_app.record.durable import storage_error
from evidence_app.sentence import sentences_beside

_WORDS = sentences_beside(__file__)


class JobLock(AbstractContextManager["JobLock"]):
    """The file ``lock`` of a job's folder; it also says which process holds it."""

    def __init__(self, folder: Path, read_only: bool = False) -> None:
        self._folder = folder
        self._read_only = read_only
        self._path = folder / "lock"
        # Without the system's own lock we refuse: a mere marker file would outlive its process.
        self._lock = FileLock(self._path, timeout=0, thread_local=False, fallback_to_soft=False)

    def acquire(self) -> None:
        """Take the lock. Raises JobInUse, or RecordError when the folder is absent or closed to us.

        A folder that cannot be written can still be read: nobody else can hold it there.
        """
        if not self._folder.is_dir():
            raise RecordError.worded(_WORDS["no-folder"], str(self._folder))
        holder = self._holder()
        try:
            self._lock.acquire()
        except Timeout:
            raise JobInUse.worded(_WORDS["in-use"], str(self._folder), holder=holder) from None
        except OSError as error:
            if not self._read_only:
                raise storage_error(error, self._folder) from error
        else:
            if self._read_only:
                return
            # Only to name the holder in the message above, so no harm if it cannot be written.
            with suppress(OSError):
                self._path.write_text(f"process {os.getpid()}\n", encoding="utf-8")

    def release(self) -> None:
        self._lock.release()

    def __enter__(self) -> JobLock:
        self.acquire()
        return self

    def __exit__(self, *_: object) -> None:
        self.release()

    def _holder(self) -> str:
        try:
            return self._path.read_text(encoding="utf-8").strip()[:80] or "starting up"
        except (OSError, UnicodeDecodeError):
            return "not named"
