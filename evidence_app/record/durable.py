"""Saying clearly when a file cannot be written."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from evidence_app.errors import RecordError, StorageFull
from evidence_app.sentence import sentences_beside

_WORDS = sentences_beside(__file__)

FULL = {errno.ENOSPC, errno.EFBIG} | ({errno.EDQUOT} if hasattr(errno, "EDQUOT") else set())
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}


@contextmanager
def storage_trouble(where: Path | str) -> Iterator[None]:
    """Turn the system's errors inside the block into StorageFull or RecordError."""
    try:
        yield
    except OSError as error:
        raise storage_error(error, where) from error


def storage_error(error: OSError, where: Path | str) -> RecordError:
    """The error to show for a system error met at ``where``."""
    if error.errno in FULL:
        return storage_full(where)
    reason = (error.strerror or str(error)).lower()
    if error.errno in _FORBIDDEN:
        return RecordError.worded(_WORDS["forbidden"], str(where), reason=reason)
    return RecordError.worded(_WORDS["unusable"], str(where), reason=reason)


def storage_full(where: Path | str) -> StorageFull:
    return StorageFull.worded(_WORDS["full"], str(where))
