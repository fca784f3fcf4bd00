"""Writing a file outside the job so that it is there whole after a power cut, or not at all.

Temporary file beside the final one, forced to disk, renamed, and the folder
forced to disk too.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from evidence_app.errors import EvidenceError, PackageError, StorageFull
from evidence_app.record.durable import FULL
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.system_calls import sync_file, sync_folder

_WORDS = sentences_beside(__file__)


@contextmanager
def durable_file(
    final: Path, *, mode: int = 0o644, error: type[EvidenceError] = PackageError
) -> Iterator[BinaryIO]:
    """A new file that takes the place ``final`` only when the block succeeds.

    Whoever must not replace an existing file checks that before. The temporary
    name is fixed, so a killed attempt leaves at most one such file and the next
    attempt takes it over. Raises StorageFull when the disk is full and
    ``error`` for any other refusal of the file system; nothing is left under
    the temporary name then.
    """
    part = part_of(final)
    with storage_errors(final, error):
        try:
            part.unlink(missing_ok=True)
            with open(part, "x+b", opener=lambda path, flags: os.open(path, flags, mode)) as file:
                yield file
                file.flush()
                sync_file(file.fileno())
            os.replace(part, final)
        except BaseException:
            with suppress(OSError):  # what is wrong with the place is told by its own name
                part.unlink()
            raise
        sync_folder(final.parent)


def write_durably(
    final: Path, data: bytes, *, mode: int = 0o644, error: type[EvidenceError] = PackageError
) -> None:
    """``data`` as the whole content of ``final``; replaces what was there."""
    with durable_file(final, mode=mode, error=error) as file:
        file.write(data)


@contextmanager
def new_file(final: Path) -> Iterator[BinaryIO]:
    """A :func:`durable_file` where there must be nothing yet. Raises EvidenceError if there is."""
    taken = sentence("the file cannot be written: there is one of this name already")
    refuse_existing(final, taken, EvidenceError)
    with durable_file(final, error=EvidenceError) as file:
        yield file


def refuse_existing(final: Path, what: Sentence, error: type[EvidenceError]) -> None:
    """Raises ``error``, saying ``what``, when there is anything at ``final``."""
    if os.path.lexists(final):
        move = sentence("name a new file, or move that one away")
        raise error(what, where=str(final), remedy=move)


def part_of(final: Path) -> Path:
    """The temporary name of an unfinished ``final``."""
    return final.with_name(f".{final.name}.part")


@contextmanager
def storage_errors(where: Path, error: type[EvidenceError] = PackageError) -> Iterator[None]:
    """Turn the system's errors inside the block into StorageFull or ``error``."""
    try:
        yield
    except OSError as problem:
        if problem.errno in FULL:
            raise StorageFull.worded(_WORDS["full"], str(where)) from problem
        reason = (problem.strerror or str(problem)).lower()
        raise error.worded(_WORDS["not-written"], str(where), reason=reason) from problem
