"""What one running desk holds: its register, settings, what is being taken in, opened packages."""

from functools import lru_cache
from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app import limits
from evidence_app.desk import search
from evidence_app.desk.contents import Contents, read_contents
from evidence_app.desk.intake import Desk
from evidence_app.desk.register import Register
from evidence_app.desk.review import Review, open_review
from evidence_app.desk.search import Entry
from evidence_app.desk.worklist import Worklist
from evidence_app.deskpage.accounts import Accounts
from evidence_app.deskpage.receiving import Receiving
from evidence_app.deskpage.settings import DeskSettings, save_desk_settings
from evidence_app.errors import PackageError
from evidence_app.language import say
from evidence_app.package.keys.keylist import KeyList, open_key_list
from evidence_app.package.zip.archive import open_archive, read_all
from evidence_app.reading import read_named

_MOST_OPEN = 8


class Opened(Struct, frozen=True):
    """A package of the register as it is looked at; ``contents`` is None when it cannot be
    read, and ``why_not`` then says why."""

    entry: Entry
    contents: Contents | None
    why_not: str


class DeskPlace:
    """``team`` are the accounts of a desk that serves more than this computer, else None."""

    def __init__(
        self,
        register: Register,
        settings: DeskSettings,
        practice: bool = False,
        team: Accounts | None = None,
    ) -> None:
        self.register, self.settings, self.practice, self.team = register, settings, practice, team
        self.worklist = Worklist(register)
        self.receiving = Receiving(register, self.desk_of)
        self._read = lru_cache(_MOST_OPEN)(lambda path, *stamp: read_contents(path))
        if settings.watched_folder:
            self.receiving.watch(Path(settings.watched_folder), self.clerk)

    @property
    def clerk(self) -> str:
        return self.settings.clerk or "desk"

    @property
    def dropped(self) -> Path:
        """Where packages are kept that came through the browser."""
        return self.register.path.parent / "received"

    def change(self, **new: str) -> None:
        """Keep other settings. Raises EvidenceError."""
        settings = msgspec.structs.replace(self.settings, **new)
        save_desk_settings(settings)
        if settings.watched_folder != self.settings.watched_folder:
            folder = settings.watched_folder
            self.receiving.watch(Path(folder) if folder else None, settings.clerk or "desk")
        self.settings = settings

    def key_list(self) -> KeyList | None:
        """The depot's key list when one is set. Raises SigningKeyError."""
        return open_key_list(Path(self.settings.key_list)) if self.settings.key_list else None

    def desk_of(self, by: str) -> Desk:
        authority = self.settings.time_authority
        pem = read_named(Path(authority)) if authority else None
        return Desk(by, self.key_list(), pem, self.practice, measure_again=True)

    def open(self, package: int) -> Opened:
        """Raises RegisterError when there is none of that number."""
        entry = search.show(self.register, package)
        path = self.path_of(package)
        if not path.exists():
            return Opened(entry, None, say("The package is not where it was received from any more."))
        try:
            contents = self._contents(path)
        except PackageError as error:
            return Opened(entry, None, error.sentence(say=say))
        if contents.content_sha256 != entry.package["content_sha256"]:
            return Opened(entry, None, say("Another package lies where this one was received from."))
        return Opened(entry, contents, "")

    def path_of(self, package: int) -> Path:
        """Where it was when it was last received. Raises KeyError when there is none of that number."""
        with self.register.lookup() as database:
            place = search.latest_path(database, package)
        if place is None:
            raise KeyError("package")
        return Path(place)

    def file_of(self, package: int, name: str) -> bytes:
        """A file of a package. Raises EvidenceError; KeyError when there is none of that name."""
        archive = open_archive(self.path_of(package))
        if name not in archive.sizes:
            raise KeyError(name)
        return read_all(archive, name, limits.TEXT_BYTES)

    def review_of(self, package: int) -> Review:
        """Raises EvidenceError; KeyError when there is none of that number."""
        return open_review(self.path_of(package), self.key_list(), self.practice)

    def _contents(self, path: Path) -> Contents:
        """Read once as long as the file stays the same; a folder is read every time."""
        if path.is_dir():
            return read_contents(path)
        found = path.stat()
        return self._read(path, found.st_ino, found.st_size, found.st_mtime_ns)
