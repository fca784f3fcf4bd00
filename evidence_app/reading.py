"""The one way in which a file that somebody named is opened: bounded, and never waited for.

A name can lead to a folder, a pipe that nobody fills, a device without an end or a file of
many gigabytes. Each is refused by its name before anything of it is read.
"""

import os
import stat
from pathlib import Path

from evidence_app.errors import EvidenceError
from evidence_app.sentence import Sentence, sentence

LARGEST_NAMED_FILE = 256 * 2**20
"""Photos and sounds; a list, key or token has a limit of its own, given with it."""


def read_named(
    path: Path,
    most: int = LARGEST_NAMED_FILE,
    *,
    remedy: Sentence | str = "",
    error: type[EvidenceError] = EvidenceError,
) -> bytes:
    """All bytes of the ordinary file at ``path``, at most ``most``.

    Raises ``error`` naming the path when it is empty, missing, no ordinary file, too large,
    or cannot be read; FileNotFoundError and OSError never leave it.
    """
    if str(path) in ("", "."):
        raise error(sentence("no file was named"), where="''", remedy=remedy)
    try:
        # A pipe is opened without waiting for somebody to write into it.
        with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC), "rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode):
                raise error(_no_file(found.st_mode), where=str(path), remedy=remedy)
            data = file.read(most + 1)
    except (OSError, ValueError) as problem:
        why = getattr(problem, "strerror", None) or str(problem)
        if isinstance(problem, IsADirectoryError):
            raise error(_no_file(stat.S_IFDIR), where=str(path), remedy=remedy) from problem
        raise error(
            sentence("the file cannot be read ({why})", why=why), where=str(path), remedy=remedy
        ) from problem
    if len(data) > most:
        raise error(
            sentence("the file is larger than {most} bytes", most=most), where=str(path), remedy=remedy
        )
    return data


def _no_file(mode: int) -> Sentence:
    if stat.S_ISDIR(mode):
        return sentence("this is a folder, and a file is needed")
    if stat.S_ISFIFO(mode):
        return sentence("this is a pipe, not an ordinary file")
    return sentence("this is a device, not an ordinary file")
