"""Packages in object storage or in folders: listed by address, and read by range.

The storage's place and the credentials come from the environment of each process (AWS_ENDPOINT_URL,
AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_CA_BUNDLE and the like). No address, task, log or error
carries them, so what a storage answers is told by its kind, never in its own words.
"""

import re
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from botocore.exceptions import NoCredentialsError
from fsspec import AbstractFileSystem
from fsspec.implementations.local import LocalFileSystem
from s3fs import S3FileSystem
from s3fs.utils import FileExpired

from evidence_app.package.zip.archive import Elsewhere, Unreadable
from evidence_app.sentence import sentence

S3 = "s3://"
# A package of up to 64 MiB is fetched once, a larger one again for what is read again.
_KEPT = {"block_size": 4 * 2**20, "cache_type": "blockcache", "cache_options": {"maxblocks": 16}}
_ADDRESS = re.compile(r"s3://[A-Za-z0-9][\w.-]*(/.*)?", re.DOTALL)


@dataclass(frozen=True)
class Listed(Elsewhere):
    """A package as it was listed: its address (``s3://bucket/key`` or an absolute path), and its
    ETag, or time of change, and size in bytes, by which another one in its place is known. An object
    is fetched block by block, each request naming the ETag; the latest 64 MiB are kept."""

    address: str
    etag: str
    size: int
    _turn = threading.Lock()  # of the process, which reads one package at a time

    def __str__(self) -> str:
        return self.address

    def __reduce__(self) -> tuple[Any, ...]:
        return Listed, (self.address, self.etag, self.size)  # without the open file

    @property
    def place(self) -> Path | Elsewhere:
        """From where it is read: what is on a disk is read as such."""
        return self if self.address.startswith(S3) else Path(self.address)

    def read_at(self, offset: int, length: int) -> bytes:
        with refusals(self.address), self._turn:
            self.file.seek(offset)
            return self.file.read(length)

    @cached_property
    def file(self) -> Any:
        """The library's file, opened when it is first read; its cache counts the requests."""
        system = system_of(self.address)
        file = system.open(self.address, **_KEPT)
        if _listed(system, file.details) != self:
            raise FileExpired(self.address, self.etag)
        return file


def system_of(place: str) -> AbstractFileSystem:
    """The file system of an address or path: the object storage of this process's environment, or
    this computer's. What it lists is never remembered. Raises Unreadable for another address than
    s3://bucket/name, without repeating what could be a password in it."""
    if "://" not in place:
        return LocalFileSystem()
    if not _ADDRESS.fullmatch(place):
        raise Unreadable(
            sentence("only addresses of the form s3://bucket/name are read"),
            where=f"{place.partition('://')[0]}://…",
            remedy=sentence("give name and password of the storage in the environment"),
        )
    return S3FileSystem(use_listings_cache=False)


def list_packages(places: Iterable[str]) -> list[Listed]:
    """The packages at each address, path or pattern of them, and the ZIP files below each folder,
    in the order of the places and of their names. Raises Unreadable for a place without any."""
    found: dict[Listed, None] = {}
    for place in places:
        system = system_of(place)
        with refusals(place):
            below = f"{place.rstrip('/')}/**/*.zip" if system.isdir(place) else place
            told = {place: system.info(place)} if system.isfile(place) else system.glob(below, detail=True)
        here = [_listed(system, told[name]) for name in sorted(told) if told[name]["type"] == "file"]
        if not here:
            raise Unreadable(
                sentence("there is no package"), where=place, remedy=sentence("check the name")
            )
        found |= dict.fromkeys(here)
    return list(found)


def _listed(system: AbstractFileSystem, told: dict[str, Any]) -> Listed:
    address = f"{S3 if isinstance(system, S3FileSystem) else ''}{told['name']}"
    return Listed(address, str(told.get("ETag") or told["mtime"]).strip('"'), int(told["size"]))


@contextmanager
def refusals(place: str) -> Iterator[None]:
    """Turns what the storage, its libraries or the network answer into Unreadable."""
    try:
        yield
        return
    except FileNotFoundError:
        what, remedy = sentence("there is no such file or bucket"), sentence("check the name")
    except (PermissionError, NoCredentialsError):
        what = sentence("access is refused")
        remedy = sentence("check the rights, and the AWS_ACCESS_KEY_ID of this computer and each worker")
    except FileExpired:
        what = sentence("another file has taken its place since it was listed")
        remedy = sentence("start the check again")
    except Exception as error:  # three libraries below, each with errors of its own
        what = sentence("it cannot be used ({kind})", kind=type(error).__name__)
        remedy = sentence("check the place, AWS_ENDPOINT_URL and the network, here and on every worker")
    raise Unreadable(what, where=place, remedy=remedy)
