"""The one way in which a file that somebody named is opened: bounded, and never waited for.

A name can lead to a folder, a pipe that nobody fills, a device without an end or a file of
many gigabytes. Each is refused by its name before anything of it is read.
"""

import hashlib
import os
import stat
from pathlib import Path
from typing import BinaryIO

from evidence_app import limits
from evidence_app.errors import EvidenceError
from evidence_app.sentence import NOTHING, Sentence, sentence
from evidence_app.system_calls import READ_PLAINLY


def read_named(
    path: Path,
    most: int = limits.NAMED_FILE_BYTES,
    *,
    remedy: Sentence = NOTHING,
    error: type[EvidenceError] = EvidenceError,
) -> bytes:
    """All bytes of the ordinary file at ``path``, at most ``most``.

    Raises ``error`` naming the path when it is empty, missing, no ordinary file, too large,
    or cannot be read; FileNotFoundError and OSError never leave it.
    """
    with open_named(path, remedy=remedy, error=error) as file:
        # Its size is asked first, its bytes counted all the same: a file can grow meanwhile.
        if os.fstat(file.fileno()).st_size <= most:
            try:
                data = file.read(most + 1)
            except OSError as problem:
                raise _unreadable(path, problem, remedy, error) from problem
            if len(data) <= most:
                return data
    raise error(sentence("the file is larger than {most} bytes", most=most), where=str(path), remedy=remedy)


def open_named(
    path: Path, *, remedy: Sentence = NOTHING, error: type[EvidenceError] = EvidenceError
) -> BinaryIO:
    """The ordinary file at ``path``, opened to be read piece by piece; else raises ``error``."""
    if str(path) in ("", "."):
        raise error(sentence("no file was named"), where="''", remedy=remedy)
    try:
        file = os.fdopen(os.open(path, READ_PLAINLY), "rb")
    except IsADirectoryError as problem:
        raise error(_no_file(stat.S_IFDIR), where=str(path), remedy=remedy) from problem
    except (OSError, ValueError) as problem:
        raise _unreadable(path, problem, remedy, error) from problem
    mode = os.fstat(file.fileno()).st_mode
    if not stat.S_ISREG(mode):
        file.close()
        raise error(_no_file(mode), where=str(path), remedy=remedy)
    return file


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's content, 64 hex, read piece by piece. Raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _unreadable(
    path: Path, problem: Exception, remedy: Sentence, error: type[EvidenceError]
) -> EvidenceError:
    why = getattr(problem, "strerror", None) or str(problem)
    return error(sentence("the file cannot be read ({why})", why=why), where=str(path), remedy=remedy)


def _no_file(mode: int) -> Sentence:
    if stat.S_ISDIR(mode):
        return sentence("this is a folder, and a file is needed")
    if stat.S_ISFIFO(mode):
        return sentence("this is a pipe, not an ordinary file")
    return sentence("this is a device, not an ordinary file")
