"""A package opened for reading: a ZIP file, or the folder that one was unpacked to.

Nothing is unpacked to disk. Opening lists the files and judges the listing;
only a package whose listing is sound can be read from. Two kinds of defect are
kept apart: :class:`Unreadable` means that there is no package to judge (missing,
cut short, not a ZIP, an unreadable disk; exit status 2), while ``problems`` are
what is wrong with a package that is there (exit status 1).

Files are read through ordinary reads and not through a memory map: when a disk
is pulled out, a read reports an error, a mapped page ends the whole program.
"""

import io
import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, BinaryIO

from msgspec import Struct

from evidence_app import limits
from evidence_app.errors import PackageError
from evidence_app.package import layout
from evidence_app.package.zip.directory import MAX_PROBLEMS, NotAZip, read_directory
from evidence_app.package.zip.names import name_problem, of_name, twins
from evidence_app.sentence import Sentence, sentence
from evidence_app.system_calls import READ_NO_LINK

_PIECE = 4 * 2**20
_SENT_ENCRYPTED = b"age-encryption.org/"
_ZIP_START = b"PK\x03\x04"
_MARKS_OF_A_BAG = (layout.BAGIT, layout.SEAL, layout.MANIFEST, layout.TAG_MANIFEST)


class Unreadable(PackageError):
    """There is no package here that could be judged, or reading it failed."""


class TooLarge(PackageError):
    """A file of the package is larger than the reader accepts."""


class Elsewhere:
    """A ZIP file of ``size`` bytes that is not on a disk of this computer, named by its ``str()``.
    ``read_at(offset, length)`` gives exactly these bytes, to any thread, or raises OSError or
    Unreadable, also when it is not what it was any more."""

    size: int
    read_at: Callable[[int, int], bytes]

    def pieces(self) -> Iterator[bytes]:
        """All of it, in pieces of 4 MiB."""
        for at in range(0, self.size, _PIECE):
            yield self.read_at(at, min(_PIECE, self.size - at))


class _Identity(Struct, frozen=True):
    """By what a file is known to be the one that was listed."""

    device: int
    node: int
    size: int
    changed_ns: int


class _Place(Struct, frozen=True):
    """Where the bytes of a file of the package are: ``size`` bytes from ``start`` on of a file on
    disk, which is opened with ``flags``, or of one elsewhere."""

    path: Path | Elsewhere
    identity: _Identity
    start: int
    size: int
    flags: int


class Archive:
    """A package as files named below its top folder, with ``/`` between parts.

    ``kind`` is zip or folder; ``sizes`` gives the bytes of each file and is empty while
    ``problems`` is not; ``empty_folders`` are folders without a file in an unpacked package.
    """

    def __init__(
        self,
        path: Path | Elsewhere,
        kind: str,
        top: str,
        places: dict[str, _Place],
        problems: tuple[Sentence, ...],
        empty_folders: tuple[str, ...] = (),
    ) -> None:
        self.path, self.kind, self.top = path, kind, top
        self.problems, self.empty_folders = problems, empty_folders
        self._places = {} if problems else places
        self.sizes = {name: place.size for name, place in self._places.items()}

    def open(self, name: str) -> "_Section":
        """The file's bytes, unbuffered and seekable; safe from several threads.

        Raises KeyError for a name that is not in ``sizes``; it and the reads
        raise Unreadable when the disk or the package goes away or changes, so
        that exactly ``sizes[name]`` bytes are read or none is trusted.
        """
        return _Section(self._places[name])


def open_archive(path: str | Path | Elsewhere) -> Archive:
    """Open the package at ``path``, a ZIP file or a folder. Raises Unreadable."""
    if isinstance(path, Elsewhere):
        return _open_zip(path)
    path = Path(path)
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        raise _unreadable(path, "there is no such file or folder", "check the name") from None
    except OSError as error:
        raise _failed(path, error) from error
    if stat.S_ISDIR(mode):
        return _open_folder(path)
    if stat.S_ISREG(mode):
        return _open_zip(path)
    raise _unreadable(path, "this is neither a file nor a folder", "choose a package")


def read_all(archive: Archive, name: str, at_most: int) -> bytes:
    """The whole file. Raises TooLarge beyond ``at_most`` bytes, else as ``open``."""
    size = archive.sizes[name]
    if size > at_most:
        told = sentence("the file has {size} bytes, more than the {most} accepted", size=size, most=at_most)
        raise TooLarge(told, where=name)
    return read_head(archive, name, size)


def read_head(archive: Archive, name: str, length: int) -> bytes:
    """The first ``length`` bytes of a file, or all of a shorter one."""
    with io.BufferedReader(archive.open(name)) as file:
        return file.read(min(length, archive.sizes[name]))


def chunks(archive: Archive, name: str, buffer: memoryview) -> Iterator[memoryview]:
    """The file piece by piece, each read into ``buffer`` and valid until the next."""
    with archive.open(name) as file:
        while count := file.readinto(buffer):
            yield buffer[:count]


def _open_zip(path: Path | Elsewhere) -> Archive:
    try:
        if isinstance(path, Elsewhere):
            identity = _Identity(0, 0, path.size, 0)
            start = path.read_at(0, min(path.size, len(_SENT_ENCRYPTED)))
            directory = read_directory(path.read_at, path.size)
        else:
            with path.open("rb") as file:
                identity = _identity(os.fstat(file.fileno()))
                start = file.read(len(_SENT_ENCRYPTED))
                directory = read_directory(_reader(file), identity.size)
    except NotAZip:
        raise _not_a_zip(path, start, identity.size) from None
    except OSError as error:
        raise _failed(path, error) from error
    problems = directory.problems
    places = {}
    top = ""
    for entry in directory.entries:
        top, slash, name = entry.name.partition("/")
        if not slash:
            problems = (of_name(top, sentence("does not lie in the package's top folder")),)
        places[name] = _Place(path, identity, entry.data_at, entry.size, os.O_RDONLY)
    return Archive(path, "zip", top, places, problems)


def _open_folder(path: Path) -> Archive:
    listing = _Listing()
    try:
        listing.walk(path, "")
    except OSError as error:
        raise _failed(Path(error.filename or path), error) from error
    if not any(mark in listing.files or mark in listing.odd for mark in _MARKS_OF_A_BAG):
        raise _unreadable(
            path,
            "this folder is not a package: it has no bagit.txt",
            "choose the package's ZIP file, or the folder named evidence-… itself",
        )
    places = {
        name: _Place(path / name, found, 0, found.size, READ_NO_LINK)
        for name, found in listing.files.items()
    }
    problems = tuple(listing.problems()[:MAX_PROBLEMS])
    return Archive(path, "folder", path.resolve().name, places, problems, tuple(listing.empty))


class _Listing:
    """The files below a folder, found without following any link."""

    def __init__(self) -> None:
        self.files: dict[str, _Identity] = {}
        self.odd: dict[str, Sentence] = {}
        self.empty: list[str] = []

    def walk(self, folder: Path, prefix: str) -> None:
        """Raises OSError. Stops descending where a path grows past what a name may have."""
        with os.scandir(folder) as entries:
            found = sorted(entries, key=lambda entry: entry.name)
        if prefix and not found:
            self.empty.append(prefix.rstrip("/"))
        for entry in found:
            name = prefix + entry.name
            if len(self.files) + len(self.odd) > limits.PACKAGE_FILES:
                self.odd[name] = sentence(
                    "is beyond the {most} files that are accepted", most=limits.PACKAGE_FILES
                )
                return
            found_as = entry.stat(follow_symlinks=False)
            problem = name_problem(name)
            if stat.S_ISLNK(found_as.st_mode):
                self.odd[name] = sentence("is a symbolic link")
            elif problem:
                self.odd[name] = problem
            elif stat.S_ISDIR(found_as.st_mode):
                self.walk(folder / entry.name, f"{name}/")
            elif stat.S_ISREG(found_as.st_mode):
                # On Windows only os.stat fills in the file's number.
                self.files[name] = _identity(os.stat(entry.path, follow_symlinks=False))
            else:
                self.odd[name] = sentence("is not a regular file")

    def problems(self) -> list[Sentence]:
        odd = [of_name(name, problem) for name, problem in self.odd.items()]
        return odd + twins([*self.files, *self.odd])


class _Section(io.RawIOBase):
    """A stretch of a file, behind a handle of its own so that threads do not meet."""

    def __init__(self, place: _Place) -> None:
        self._place, self._at = place, 0
        self._file: Any = io.BytesIO()  # nothing is opened of what is elsewhere
        if isinstance(place.path, Elsewhere):
            return
        try:
            self._file = io.FileIO(place.path, opener=lambda name, own: os.open(name, own | place.flags))
        except OSError as error:
            raise _failed(place.path, error) from error
        if _identity(os.fstat(self._file.fileno())) != place.identity:
            self.close()
            raise _changed(place.path)
        self._file.seek(place.start)

    def readinto(self, buffer: Any) -> int:
        wanted = min(len(buffer), self._place.size - self._at)
        if wanted <= 0:
            return 0
        try:
            if isinstance(away := self._place.path, Elsewhere):
                buffer[:wanted], count = away.read_at(self._place.start + self._at, wanted), wanted
            else:
                count = self._file.readinto(memoryview(buffer)[:wanted])
        except OSError as error:
            raise _failed(self._place.path, error) from error
        if not count:
            raise _changed(self._place.path)
        self._at += count
        return count

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        base = {os.SEEK_SET: 0, os.SEEK_CUR: self._at, os.SEEK_END: self._place.size}[whence]
        self._at = min(max(0, base + offset), self._place.size)
        self._file.seek(self._place.start + self._at)
        return self._at

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def close(self) -> None:
        self._file.close()
        super().close()


def _reader(file: BinaryIO) -> Callable[[int, int], bytes]:
    """Reads of exactly so many bytes at so many bytes from the start."""

    def read_at(offset: int, length: int) -> bytes:
        file.seek(offset)
        data = file.read(length)
        if len(data) < length:
            raise OSError(None, "the file became shorter while it was read")
        return data

    return read_at


def _identity(found: os.stat_result) -> _Identity:
    return _Identity(found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)


def _not_a_zip(path: Path | Elsewhere, start: bytes, size: int) -> Unreadable:
    if not size:
        return _unreadable(path, "the file is empty", "copy the package again")
    if start.startswith(_ZIP_START):
        return _unreadable(
            path, "the package is cut short: its directory is missing", "copy the package again"
        )
    if start.startswith(_SENT_ENCRYPTED):
        return _unreadable(
            path, "the package is encrypted for transport", "open it with the desk's key first"
        )
    return _unreadable(path, "this is not a ZIP file", "choose a package")


def _failed(path: Path | Elsewhere, error: OSError) -> Unreadable:
    reason = error.strerror or str(error) or type(error).__name__
    return _unreadable(
        path,
        "reading failed ({reason})",
        "check the disk and its permissions, then try again",
        reason=reason,
    )


def _changed(path: Path | Elsewhere) -> Unreadable:
    return _unreadable(
        path, "the package changed or went away while it was checked", "copy it and check the copy"
    )


def _unreadable(path: Path | Elsewhere, what: str, remedy: str, /, **values: object) -> Unreadable:
    named = tuple(values.items())
    return Unreadable(Sentence(what, named), where=str(path), remedy=Sentence(remedy, named))
