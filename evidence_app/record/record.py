"""The record of one job: its folder, journal and originals behind one lock.

Layout of the folder: ``journal.db``, ``originals/``, ``scratch/`` (a voice note
being recorded; this room never touches what is in it), ``set-aside/`` (files
that no event names, found after a crash), ``derived/`` (what was made from
originals and can be made again), ``lock``.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack
from pathlib import Path

from evidence_app.errors import RecordError
from evidence_app.record import journal as journal_file
from evidence_app.record import recovery
from evidence_app.record.clock import Clock, clock_changes
from evidence_app.record.derived import Derived
from evidence_app.record.durable import storage_trouble
from evidence_app.record.event import (
    GENESIS,
    Draft,
    Event,
    Instant,
    canonical,
    join_line,
    read_canonical,
    seal_draft,
    verify_chain,
)
from evidence_app.record.journal import Journal, Row
from evidence_app.record.lock import JobLock
from evidence_app.record.originals import OriginalRef, Originals, check_media_type, is_hash
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.system_calls import sync_folder

__all__ = ["OriginalRef", "Record"]

_WORDS = sentences_beside(__file__)
_FOLDERS = ("originals", "scratch", "set-aside", "derived")
_OF_A_DEVICE = (".jpg", ".png", ".flac", ".wav")
_SKELETON = {*_FOLDERS, "lock", journal_file.UNFINISHED_NAME}


class Record(AbstractContextManager["Record"]):
    """A job's record, open in this process. Made by :meth:`create` and :meth:`open`.

    ``damage`` says what is wrong with the journal, ``missing`` of each original that an event
    names and that was not there, or not whole, when the job was opened.
    """

    def __init__(
        self,
        folder: Path,
        clock: Clock,
        lock: JobLock,
        journal: Journal | None,
        rows: list[Row],
        problems: list[Sentence],
    ) -> None:
        self.folder = folder
        self.scratch = folder / "scratch"
        self._clock = clock
        self._job_lock = lock
        self._journal = journal
        self._rows = rows
        self._events, unreadable = _read_events(rows)
        self._originals = Originals(folder / "originals", folder / "set-aside")
        self._derived = Derived(folder / "derived")
        self._lock = threading.RLock()
        self._closed = False
        self.damage = (*problems, *unreadable, *verify_chain(self._events))
        self.missing: tuple[Sentence, ...] = ()

    @classmethod
    def create(cls, folder: Path, clock: Clock) -> Record:
        """Start the record of a new job in ``folder``, which must be absent or empty.

        Raises RecordError (folder in use, no permission), JobInUse, StorageFull.
        """
        with storage_trouble(folder):
            folder.mkdir(parents=True, exist_ok=True)
            if not _is_unused(folder):
                raise RecordError.worded(_WORDS["not-empty"], str(folder))
            with JobLock(folder):
                _make_folders(folder)
                journal_file.create(folder)
                sync_folder(folder.parent)
        return cls.open(folder, clock)

    @classmethod
    def open(cls, folder: Path, clock: Clock, read_only: bool = False) -> Record:
        """Open a job's record, putting right what a crash left.

        A damaged journal or a broken chain raises RecordError and leaves the
        folder untouched. With ``read_only`` nothing is written, whatever can be
        read is there, and the damage is listed.
        Raises RecordError, JobInUse, StorageFull.
        """
        lock = JobLock(folder, read_only)
        lock.acquire()
        with ExitStack() as undo:
            undo.callback(lock.release)
            _refuse_interrupted(folder)
            rows, problems = journal_file.inspect(folder)
            record = cls(folder, clock, lock, None, rows, problems)
            undo.callback(record.close)
            record._note_lost_events()
            if not read_only:
                record.refuse_damage()
                _make_folders(folder)
                record._journal = Journal(folder / journal_file.FILE_NAME)
                record._recover()
            named = recovery.named_originals(record.events)
            record.missing = tuple(recovery.missing_originals(record._originals, named))
            undo.pop_all()
        return record

    @property
    def events(self) -> tuple[Event, ...]:
        return self._events

    @property
    def head(self) -> str:
        """Hash of the last event; GENESIS when there is none."""
        return self._events[-1].hash if self._events else GENESIS

    def store(self, data: bytes | Path, media_type: str) -> OriginalRef:
        """Keep the exact bytes (or a copy of the file); they are on the disk when this returns.

        The same bytes twice give the same file. Raises StorageFull, RecordError.
        """
        check_media_type(media_type)
        self._writable()
        with self._originals.received(data) as (temporary, sha256, size), self._lock:
            self._writable()
            self._originals.keep(temporary, sha256, media_type)
        return OriginalRef(sha256, size, media_type)

    def path_of(self, sha256: str) -> Path:
        """Where the original with this hash is. Raises RecordError when it is not there."""
        path = self._originals.find(sha256)
        if path is None:
            raise RecordError.worded(_WORDS["missing"], str(self.folder), sha=sha256)
        return path

    def keep_derived(self, sha256: str, maker: str, content: bytes, safe: bool = False) -> None:
        """Keep what ``maker`` made from an original, so that it need not be made again.

        ``maker`` names the program and version in one line; ``safe``: it is on the disk when this
        returns, for it cannot be made again. Raises StorageFull, RecordError.
        """
        self._writable()
        self._derived.keep(sha256, maker, content, safe)

    def derived(self, sha256: str, maker: str) -> bytes | None:
        """What was kept of this maker for this original, None when it must be made again."""
        return self._derived.find(sha256, maker) if is_hash(sha256) else None

    def append(self, draft: Draft) -> tuple[Event, ...]:
        """Commit ``draft`` as the next event; it is on the disk when this returns.

        When the clocks show that the wall clock was moved or the machine
        restarted since the event before, events saying so are committed first,
        each in its own transaction. Returns all of them, the draft's last.
        Raises StorageFull, RecordError; nothing of the event is kept then.
        """
        with self._lock:
            self._writable()
            now = self._clock.now()
            noticed = clock_changes(self._events[-1].instant, now) if self._events else []
            return tuple(self._commit(each, now) for each in (*noticed, draft))

    def journal_lines(self) -> Iterator[bytes]:
        """The lines of journal.jsonl, from the very bytes that were committed."""
        with self._lock:
            rows = tuple(self._rows)
        return (join_line(line, hash_hex) for _, line, hash_hex in rows)

    def check_originals(self) -> list[Sentence]:
        """Hash every original an event names; a sentence for each that is missing or altered."""
        return list(recovery.changed_originals(self._originals, recovery.named_originals(self._events)))

    def close(self) -> None:
        """Release the job; calling it twice does no harm."""
        with self._lock:
            if self._closed:
                return
            self._closed = True
            try:
                if self._journal:
                    self._journal.close()
            finally:
                self._job_lock.release()

    def __exit__(self, *_: object) -> None:
        self.close()

    def _commit(self, draft: Draft, now: Instant) -> Event:
        event = seal_draft(draft, now, len(self._events) + 1, self.head)
        line = canonical(event)
        assert self._journal is not None  # _writable has asked
        self._journal.append(event.sequence, line, event.hash)
        self._rows.append((event.sequence, line, event.hash))
        self._events += (event,)
        return event

    def _writable(self) -> None:
        if self._closed:
            raise RecordError.worded(_WORDS["closed"], str(self.folder))
        if self._journal is None:
            raise RecordError.worded(_WORDS["reading-only"], str(self.folder))

    def refuse_damage(self) -> None:
        """Raises RecordError when the journal cannot be read whole, or its chain is broken."""
        problems = self.damage
        if problems:
            more = sentence(" (and {count} more)", count=len(problems) - 1) if problems[1:] else ""
            where = str(self.folder / journal_file.FILE_NAME)
            raise RecordError.worded(_WORDS["damaged"], where, problems=problems[0], more=more)

    def _note_lost_events(self) -> None:
        """A journal without events beside photos or notes has lost them: a step list is
        stored before the first event of a job, everything else after it."""
        if self._events or self.damage or not self._originals.folder.is_dir():
            return
        if any(path.suffix in _OF_A_DEVICE for path in self._originals.files()):
            name = journal_file.FILE_NAME
            lost = sentence("{file} holds no event, but originals/ holds what a job took", file=name)
            self.damage = (lost,)

    def _recover(self) -> None:
        """Tidy the originals and record what was done, unless the job is closed for good."""
        if self._events and self._events[-1].kind == "job-closed":
            return
        named = recovery.named_originals(self._events)
        finished = recovery.tidy(self._originals, named, self.folder / "set-aside")
        aside = self._not_yet_reported()
        if finished or aside:
            body = {"set_aside": aside, "finished": finished}
            self.append(Draft("record-recovered", body, actor="record"))

    def _not_yet_reported(self) -> list[str]:
        """Files in set-aside/ that no record-recovered event names: a crash between the move
        and its event must not hide them."""
        reported = {
            name
            for event in self._events
            if event.kind == "record-recovered"
            for name in event.body.get("set_aside", ())
        }
        with storage_trouble(self.folder):
            present = sorted(os.listdir(self.folder / "set-aside"))
        return [name for name in present if name not in reported]


def _make_folders(folder: Path) -> None:
    with storage_trouble(folder):
        for name in _FOLDERS:
            (folder / name).mkdir(exist_ok=True)


def interrupted_opening(folder: Path) -> RecordError:
    """What is said of a folder whose job ended before its first event."""
    return RecordError.worded(_WORDS["interrupted"], str(folder))


def _refuse_interrupted(folder: Path) -> None:
    with storage_trouble(folder):
        # The lock alone is what opening any folder leaves in it.
        begun = any((folder / name).exists() for name in _SKELETON - {"lock"})
        if begun and _is_unused(folder):
            raise interrupted_opening(folder)


def _is_unused(folder: Path) -> bool:
    """Empty, or left by a creation that was interrupted before anything could be recorded."""
    entries = list(folder.iterdir())
    return all(entry.name in _SKELETON for entry in entries) and not any(
        any(entry.iterdir()) for entry in entries if entry.is_dir()
    )


def _read_events(rows: list[Row]) -> tuple[tuple[Event, ...], list[Sentence]]:
    events, problems = [], []
    for sequence, line, hash_hex in rows:
        try:
            event = read_canonical(line, hash_hex, sentence("event {number}", number=sequence))
        except RecordError as error:
            problems.append(error.told)
        else:
            events.append(event)
    return tuple(events), problems
