"""Saying clearly when a file cannot be written."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from evidence_app.errors import RecordError, StorageFull
from evidence_app.sentence import sentence

_FULL = {errno.ENOSPC, errno.EFBIG} | ({errno.EDQUOT} if hasattr(errno, "EDQUOT") else set())
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
    if error.errno in _FULL:
        return storage_full(where)
    reason = (error.strerror or str(error)).lower()
    if error.errno in _FORBIDDEN:
        return RecordError(
            sentence("the app is not allowed to do this ({reason})", reason=reason),
            where=str(where),
            remedy=sentence(
                "give this user permission to read and write there; to look at a job, "
                "open it for reading only"
            ),
        )
    return RecordError(
        sentence("the file could not be used ({reason})", reason=reason),
        where=str(where),
        remedy=sentence("check that the disk is connected and sound, then try again"),
    )


def storage_full(where: Path | str) -> StorageFull:
    return StorageFull(
        sentence("the disk is full; this was not recorded, everything recorded before is safe"),
        where=str(where),
        remedy=sentence("free some space on that disk, then do the same again"),
    )
