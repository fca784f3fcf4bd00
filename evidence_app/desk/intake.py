"""Taking packages in: find them, check them, look for reused photos, enter them.

Reading and checking hold no lock; only the short looks into the register do, so
two desks can take in at once. A package is entered in one transaction together
with its result, or not at all. Whatever is wrong with it, it is entered as
received with what was found; only a file that cannot be read to its end is not.
"""

import os
import re
import stat
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from msgspec import Struct

from evidence_app.desk import countersign, search
from evidence_app.desk.contents import Contents, read_contents
from evidence_app.desk.photos import reuse
from evidence_app.desk.photos.index import PhotoIndex
from evidence_app.desk.register import Checked, Register
from evidence_app.desk.review import enter
from evidence_app.desk.telling import remarkable
from evidence_app.desk.worded import overall_of
from evidence_app.errors import EvidenceError, PackageError, turned
from evidence_app.language import say
from evidence_app.package import layout
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.digests import Progress
from evidence_app.package.zip.archive import Elsewhere, Unreadable
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.record.times import parse
from evidence_app.sentence import Sentence, joined, sentence, sentences_beside

_WORDS = sentences_beside(__file__)

# Countersigns and key lists lie beside packages and are read with them; the rest of a folder is
# listed, so that nobody takes it for received.
_BESIDE = re.compile(
    r"^more-[0-9a-f]{32}-\d+\.json(\.sig)?$|\.countersign-\d+(\.json|\.sig|-key\.pem)$|\.(toml|toml\.sig|tsr|tsq|pem|db|db-wal|db-shm|ini|lock)$",
    re.IGNORECASE,
)
# Another desk may enter photos while ours are compared; after so many rounds it is our turn.
_ROUNDS = 5


class Desk(Struct, frozen=True):
    """Who takes in, and what they bring along; see ``verify`` for all but the first."""

    by: str
    key_list: KeyList | None = None
    time_authorities: bytes | None = None
    accept_practice: bool = False
    measure_again: bool = False


class Taken(Struct, frozen=True):
    """What became of one package.

    ``state`` is entered, known or not-received; ``package`` its number in the register;
    ``exit_status`` is that of its latest check, also when that was made at an earlier receipt;
    ``conflicts``, ``reused`` and ``unsearched`` as in ``search.Entry``.
    """

    path: Path | Elsewhere
    state: str
    sentence: Sentence
    package: int | None = None
    checked: Checked | None = None
    conflicts: tuple[dict[str, Any], ...] = ()
    reused: tuple[dict[str, Any], ...] = ()
    unsearched: tuple[dict[str, Any], ...] = ()
    exit_status: int = 0


class Examined(Struct, frozen=True):
    """A package that was read and checked, and its photos hashed; the register knows nothing of it."""

    contents: Contents
    checked: Checked
    hashed: reuse.Hashed


class Intake:
    """Takes packages in, one after the other."""

    def __init__(self, register: Register, desk: Desk, clock: Clock | None = None) -> None:
        """Reads the register once to its end. Raises RegisterError when it is damaged."""
        register.check_whole()
        register.last_photo()  # makes it when there is none
        self._register = register
        self._desk = desk
        self._clock = clock or SystemClock()
        self._index: PhotoIndex | None = None

    def take(self, path: Path, progress: Progress | None = None, again: bool = False) -> Taken:
        """Take in the package at ``path``.

        ``progress`` is told (bytes, bytes altogether); what it raises ends the intake and
        nothing of this package is entered. With ``again`` a known package is checked
        once more and the second result is kept too. Raises RegisterError or StorageFull
        when the register cannot be used.
        """
        try:
            refuse_foreign(path)
            contents = read_contents(path, progress)
            known = self._register.known(contents.content_sha256)
            at = self._clock.now().wall
            if known is not None:
                checked = check(contents, self._desk, at, progress) if again else None
                return self._known(known, contents, checked)
            return self._enter(examine(contents, self._desk, at, progress))
        except PackageError as error:
            return not_received(path, error)

    def enter(self, found: Examined, again: bool = False) -> Taken:
        """``take`` for a package that was examined already, wherever that was."""
        known = self._register.known(found.contents.content_sha256)
        if known is not None:
            return self._known(known, found.contents, found.checked if again else None)
        return self._enter(found)

    def told_before(self, known: int, path: Path) -> Taken:
        """What is told of a package that was received before; nothing is entered."""
        # A bad package is not better for being offered again: its verdict is repeated.
        overall = overall_of(search.show(self._register, known).results[-1])
        said = sentence(
            "known: it was received before as package {number}: {overall}", number=known, overall=overall
        )
        return self._taken(path, "known", known, said, None)

    def _known(self, known: int, contents: Contents, checked: Checked | None) -> Taken:
        if checked is not None:
            self._register.checked_again(known, checked)
            said = sentence(
                "known as package {number}, checked again: {overall}", number=known, overall=checked.overall
            )
        else:
            said = self.told_before(known, contents.path).sentence
        self._register.received_again(known, contents, self._clock.now().wall, self._desk.by)
        return self._told(contents, "known", known, said, checked)

    def _enter(self, examined: Examined) -> Taken:
        contents, checked, hashed = examined.contents, examined.checked, examined.hashed
        found, seen = [], 0
        for round_ in range(_ROUNDS + 1):
            if contents.photos:
                index = self._photos()
                index.catch_up()
                found += reuse.find_reused(self._register, index, contents, hashed, after=seen)
                seen = index.last
            compared = seen if contents.photos and round_ < _ROUNDS else None
            number, new = self._register.receive(
                contents, checked, self._desk.by, hashed.photos, found, compared
            )
            if number is not None:
                break
        assert number is not None  # the last round is entered whatever came since
        said = (
            sentence("entered as package {number}: {overall}", number=number, overall=checked.overall)
            if new
            else sentence("known: another desk has just received it as package {number}", number=number)
        )
        return self._told(contents, "entered" if new else "known", number, said, checked)

    def _told(
        self, contents: Contents, state: str, package: int, said: Sentence, checked: Checked | None
    ) -> Taken:
        if contents.seal_sha256 is not None:
            for found in countersign.read_all(contents.path, contents.seal_sha256):
                if not found.problems:
                    enter(self._register, package, found)
        return self._taken(contents.path, state, package, said, checked)

    def _taken(
        self, path: Path, state: str, package: int, said: Sentence, checked: Checked | None
    ) -> Taken:
        entry = search.show(self._register, package)
        return Taken(
            path,
            state,
            said,
            package,
            checked,
            tuple(entry.conflicts),
            tuple(entry.reused),
            tuple(entry.unsearched),
            entry.package["exit_status"] or 0,
        )

    def _photos(self) -> PhotoIndex:
        if self._index is None:
            self._index = PhotoIndex.open(self._register)
        return self._index


def check(contents: Contents, desk: Desk, at: str, progress: Progress | None = None) -> Checked:
    """Check a package as the desk checks it, received ``at``. Raises Unreadable when it went away
    meanwhile."""
    listed = None
    if desk.key_list:
        listed = f"{desk.key_list.depot}, issued {desk.key_list.issued_at.isoformat()}"
    if contents.unreadable is not None:
        return Checked(None, contents.unreadable, at, listed)
    result = verify(
        contents.place,
        desk.key_list,
        desk.time_authorities,
        progress,
        accept_practice=desk.accept_practice,
        received_at=parse(at),
        measure_again=desk.measure_again,
    )
    return Checked(result, None, at, listed)


def examine(contents: Contents, desk: Desk, at: str, progress: Progress | None = None) -> Examined:
    """``check`` a package and hash its photos. Raises Unreadable, also when it changed meanwhile."""
    before = _stamp(contents.place)
    checked = check(contents, desk, at, progress)
    # Looking at photos takes a while on a large package: the caller may end it there too.
    read = contents.bytes
    told = progress and (lambda *_: progress(read, read))
    hashed = reuse.hash_contents(contents, told)
    if _stamp(contents.place) != before:
        raise Unreadable.worded(_WORDS["changed"], str(contents.place))
    return Examined(contents, checked, hashed)


def refuse_foreign(path: Path | Elsewhere) -> None:
    """A number is given to what may be a package, damaged or not; an empty file and one that
    was never a ZIP file get none. Raises PackageError."""
    if isinstance(path, Path) and not path.is_file():
        return
    with suppress(OSError):
        if isinstance(path, Path):
            with path.open("rb") as file:
                head = file.read(2)
        else:
            head = path.read_at(0, min(2, path.size))
        if not head:
            raise PackageError.worded(_WORDS["empty"], str(path))
        # A ZIP file that lost its beginning still has the name of one.
        if head != b"PK" and not str(path).lower().endswith(".zip"):
            raise _foreign(path)


def not_received(path: Path | Elsewhere, error: EvidenceError) -> Taken:
    """What became of a path that could not be taken in."""
    told = joined(". ", [each for each in (error.what, error.remedy) if each])
    told = told if str(error.where) == str(path) else error.told
    return Taken(path, "not-received", sentence("not received: {problem}.", problem=told))


def place_of(register: Register, contents: Contents) -> Path | None:
    """Where the register has this very package; None when it has not, or it is not there any more.

    Countersigns lie beside the copy that the register knows: another one must not take its place.
    """
    known = register.known(contents.content_sha256)
    if known is None:
        return None
    with register.lookup() as database:
        there = Path(search.latest_path(database, known) or "")
    with suppress(EvidenceError, OSError):
        if read_contents(there).content_sha256 == contents.content_sha256:
            return there
    return None


def packages_below(paths: Sequence[Path]) -> Iterator[Path]:
    """The packages that are meant: each file, each unpacked package, and every ZIP file or
    unpacked package below a folder or disk.

    Raises PackageError for a path that is not there and for a folder without a package.
    """
    for path in paths:
        if not path.exists():
            raise PackageError.worded(_WORDS["missing"], str(path))
        if not path.is_dir() or is_bag(path):
            yield path
            continue
        found = list(_walk(path))
        if not found:
            raise PackageError.worded(_WORDS["none-here"], str(path))
        yield from found


def listed_below(paths: Sequence[Path]) -> list[Path | EvidenceError]:
    """``packages_below`` each path; an error in the place of a path that has none."""
    found: list[Path | EvidenceError] = []
    for path in paths:
        try:
            found += packages_below([path])
        except EvidenceError as error:
            found.append(error)
    return found


def foreign_below(paths: Sequence[Path]) -> list[Taken]:
    """What else lies in the folders among ``paths``, each told as not received: nobody is to
    take it for received."""
    found = []
    for path in paths:
        if not path.is_dir() or is_bag(path):
            continue
        for here, folders, files in os.walk(path):
            folders[:] = sorted(name for name in folders if not is_bag(Path(here) / name))
            for name in sorted(files):
                if not (name.startswith(".") or name.lower().endswith(".zip") or _BESIDE.search(name)):
                    other = Path(here) / name
                    found.append(not_received(other, _foreign(other)))
    return found


def _foreign(path: Path | Elsewhere) -> PackageError:
    return PackageError.worded(_WORDS["foreign"], str(path))


def hash_missing_photos(register: Register) -> tuple[int, list[str]]:
    """Enter the photos of packages that were received before photos, or their features,
    were kept, where the packages still are: (photos entered, a sentence for each package that could
    not be read)."""
    with register.lookup() as database:
        rows = database.conn.execute(
            "SELECT id, content_sha256 FROM packages p WHERE kind != 'unreadable' AND NOT EXISTS "
            "(SELECT 1 FROM photos JOIN features ON photo = photos.id WHERE package = p.id) "
            "ORDER BY id"
        ).fetchall()
        places = {number: search.latest_path(database, number) for number, _ in rows}
    entered, problems = 0, []
    for number, content_sha256 in rows:
        try:
            contents = read_contents(Path(places[number] or ""))
            if contents.content_sha256 != content_sha256:
                raise PackageError(sentence("another package is there now"), where=str(places[number]))
            entered += register.add_photos(number, reuse.hash_contents(contents).photos)
        except PackageError as error:
            problems.append(say("package {number}", number=number) + f": {error.sentence(say=say)}")
    return entered, problems


def _walk(folder: Path) -> Iterator[Path]:
    def refuse(error: OSError) -> None:
        raise PackageError.worded(
            _WORDS["unreadable"], str(error.filename), strerror=error.strerror
        ) from error

    for here, folders, files in os.walk(folder, onerror=refuse):
        folders.sort()
        bags = [name for name in folders if is_bag(Path(here) / name)]
        folders[:] = [name for name in folders if name not in bags]
        yield from (
            Path(here) / name
            for name in sorted([*bags, *files])
            if name in bags or name.lower().endswith(".zip")
        )


def is_bag(folder: Path) -> bool:
    """Whether ``folder`` is an unpacked package."""
    return (folder / layout.BAGIT).exists() or (folder / layout.SEAL).exists()


def _stamp(path: Path | Elsewhere) -> tuple[int, ...]:
    """By which a file is known to be the same; a folder's files are compared by verify itself, and
    what is elsewhere whenever it is read."""
    if isinstance(path, Elsewhere):
        return ()
    what = sentence("reading failed ({strerror})")
    remedy = sentence("put the disk back in, then try again")
    with turned(OSError, Unreadable, what, str(path), remedy):
        found = path.stat()
    if stat.S_ISDIR(found.st_mode):
        return (found.st_dev, found.st_ino)
    return (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)


def sentences(taken: Taken) -> list[str]:
    """What became of one package, in plain lines."""
    photos = (*taken.reused, *taken.unsearched)
    return [f"{taken.path}: {say(taken.sentence)}", *remarkable(taken.conflicts, photos)]
