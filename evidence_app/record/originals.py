"""The exact bytes that came from a camera, a microphone or a file, named by their SHA-256.

A file is written under a temporary name, forced to disk, renamed to its hash and
its folder forced to disk; whoever sees the final name sees the whole content.
Files are never overwritten, altered or deleted.
"""

import hashlib
import os
import re
import uuid
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from msgspec import Struct

from evidence_app.errors import RecordError
from evidence_app.record.durable import storage_trouble
from evidence_app.sentence import sentence
from evidence_app.system_calls import make_read_only, sync_file, sync_folder

EXTENSIONS = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "audio/flac": "flac",
    "application/toml": "toml",
    "application/json": "json",
    "application/octet-stream": "bin",
}
INCOMING = "incoming-"

_CHUNK = 1 << 20
_HASH = re.compile(r"[0-9a-f]{64}")
_NAME = re.compile(r"([0-9a-f]{64})\.[a-z]+")


class OriginalRef(Struct, frozen=True):
    """How an event names an original: hash (64 hex), size in bytes, media type."""

    sha256: str
    bytes: int
    media_type: str


class Originals:
    """The folder ``originals/``; not thread-safe in :meth:`keep`, which the record serialises."""

    def __init__(self, folder: Path, set_aside: Path) -> None:
        self.folder = folder
        self._set_aside = set_aside

    @contextmanager
    def received(self, data: bytes | Path) -> Iterator[tuple[Path, str, int]]:
        """``data`` written durably under a temporary name: (file, sha256, size in bytes).

        A file is copied in pieces of 1 MiB. A temporary file that was not kept
        by the end of the block is removed. Raises StorageFull or RecordError.
        """
        temporary = self.folder / f"{INCOMING}{uuid.uuid4().hex}"
        try:
            yield self._write(temporary, _chunks(data) if isinstance(data, Path) else (data,))
        finally:
            with suppress(OSError):  # the disk's own trouble is told; the next start sets it aside
                temporary.unlink()

    def keep(self, temporary: Path, sha256: str, media_type: str) -> Path:
        """Give a received file its final name; bytes already kept are not kept twice."""
        known = self.find(sha256)
        if known is not None and hash_file(known) != sha256:
            move_aside(known, self._set_aside)
            known = None
        folder = self.folder / sha256[:2]
        with storage_trouble(folder):
            is_new = not folder.is_dir()
            folder.mkdir(exist_ok=True)
            if known is None:
                known = folder / f"{sha256}.{EXTENSIONS[media_type]}"
                os.rename(temporary, known)
            sync_folder(folder)
            if is_new:
                sync_folder(self.folder)
        return known

    def find(self, sha256: str) -> Path | None:
        """The file with this hash in its name, whatever its extension."""
        if not is_hash(sha256):
            return None
        return next((self.folder / sha256[:2]).glob(f"{sha256}.*"), None)

    def files(self) -> Iterator[Path]:
        """Everything under originals/, temporary and foreign files included, in order of name."""
        with storage_trouble(self.folder):
            for entry in sorted(self.folder.iterdir()):
                if entry.is_dir() and not entry.is_symlink():
                    yield from sorted(entry.iterdir())
                else:
                    yield entry

    def _write(self, path: Path, chunks: Iterable[bytes]) -> tuple[Path, str, int]:
        """Write and hash at once: hashing on another thread hides behind the wait for the disk."""
        digest, size = hashlib.sha256(), 0
        with (
            storage_trouble(path.parent),
            ThreadPoolExecutor(1) as hasher,
            path.open("xb", buffering=0) as target,
        ):
            hashed = hasher.submit(digest.update, b"")
            for chunk in chunks:
                hashed.result()
                hashed = hasher.submit(digest.update, chunk)
                _write_all(target, chunk)
                size += len(chunk)
            make_read_only(target.fileno())
            sync_file(target.fileno())
            hashed.result()
        return path, digest.hexdigest(), size


def check_media_type(media_type: str) -> None:
    if media_type not in EXTENSIONS:
        raise RecordError(
            sentence("the media type {media_type!r} is not one that a job keeps", media_type=media_type),
            remedy=sentence("use one of {listed}", listed=", ".join(EXTENSIONS)),
        )


def is_hash(text: object) -> bool:
    """Whether this is a SHA-256 as the app writes it: 64 lower-case hexadecimal digits."""
    return isinstance(text, str) and bool(_HASH.fullmatch(text))


def named_hash(path: Path) -> str | None:
    """The hash that an original's file name states, None for any other file."""
    found = _NAME.fullmatch(path.name)
    return found[1] if found and path.parent.name == found[1][:2] else None


def hash_file(path: Path) -> str:
    """SHA-256 of a file's content, 64 hex. Raises RecordError when it cannot be read."""
    with storage_trouble(path), path.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest()


def move_aside(path: Path, set_aside: Path) -> str:
    """Move a file into the set-aside folder under a free name; returns that name."""
    with storage_trouble(set_aside):
        set_aside.mkdir(exist_ok=True)
        target, count = set_aside / path.name, 1
        while os.path.lexists(target):
            target = set_aside / f"{path.stem}-{count}{path.suffix}"
            count += 1
        os.rename(path, target)
        sync_folder(set_aside)
        sync_folder(path.parent)
    return target.name


def _write_all(target: BinaryIO, chunk: bytes) -> None:
    view = memoryview(chunk)
    while view:
        view = view[target.write(view) :]


def _chunks(path: Path) -> Iterator[bytes]:
    with storage_trouble(path), path.open("rb") as source:
        while chunk := source.read(_CHUNK):
            yield chunk
