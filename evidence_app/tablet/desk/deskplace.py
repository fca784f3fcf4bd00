"""What is open at the desk: the register, what arrived, the package looked at.

Knows no Kivy. Called on the UI thread only; everything slow runs on the worker, taking
packages in on a thread of its own so that looking things up goes on meanwhile.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app import locations
from evidence_app.desk.contents import Contents
from evidence_app.desk.register import Register
from evidence_app.desk.review import Review
from evidence_app.desk.search import Entry
from evidence_app.errors import EvidenceError, PackageError
from evidence_app.package.durable import write_durably
from evidence_app.tablet.desk.presenting.arrivals import (
    Arrival,
    arrival_of,
    busy_notice,
    cancelled_notice,
    printed_notice,
    refused_arrival,
)
from evidence_app.tablet.desk.settings import (
    load_desk_settings,
    save_desk_settings,
)
from evidence_app.tablet.presenting import notices as n

_TELL_EVERY_S = 0.1


class Checking(Struct, frozen=True):
    """The package that is being taken in: ``number`` of ``count``, ``turn`` 1 while it is
    read and 2 while it is checked, bytes done of all."""

    path: Path
    number: int
    count: int
    turn: int = 1
    done: int = 0
    total: int = 0


class Opened(Struct, frozen=True):
    """A package of the register as it is looked at; ``contents`` is None until it was read
    or when it cannot be, and ``why_not`` then says why."""

    entry: Entry
    path: Path | None
    contents: Contents | None = None
    why_not: str = ""


class _Cancelled(Exception):
    """The clerk ended the intake."""


class DeskPlace:
    """``arrivals`` newest first, ``checking`` what is under way or None."""

    def __init__(self, place) -> None:
        self._place = place
        self.worker = place.worker
        self.settings, problem = load_desk_settings()
        if problem:
            place.tell(n.refusal_notice(problem))
        self.register = self._register()
        self.arrivals: list[Arrival] = []
        self.checking: Checking | None = None
        self.opened: Opened | None = None
        self.review: Review | None = None
        self._stop = threading.Event()

    @property
    def clerk(self) -> str:
        return self.settings.clerk or "desk"

    def change(self, **new: str) -> None:
        self.settings = msgspec.structs.replace(self.settings, **new)
        self.register = self._register()
        try:
            save_desk_settings(self.settings)
        except (EvidenceError, OSError) as error:
            self._place.tell(n.refusal_notice(str(error)))
        self._place.changed()

    def _register(self) -> Register:
        # One named at the start holds for this run only.
        return Register(self._place.register or self.settings.register_path())

    def key_list(self):
        """The depot's key list when one is set. Raises SigningKeyError."""
        if not self._place.settings.key_list:
            return None
        from evidence_app.package.keys.keylist import open_key_list

        return open_key_list(Path(self._place.settings.key_list))

    # --- taking in --------------------------------------------------------------------

    def take_in(self, paths: Sequence[Path]) -> None:
        """Check and enter every package below ``paths``; ``arrivals`` grows as they end."""
        if self.checking is not None:
            self._place.tell(busy_notice())
            return
        self._stop.clear()
        self.checking = Checking(paths[0], 1, 1)
        self._place.dismiss("refused")
        self._place.changed()
        practice, by = self._place.practice, self.clerk
        self.worker.run(
            lambda: self._take_all(paths, practice, by),
            self._taken_all,
            self._not_taken,
            thread="desk",
        )

    def cancel(self) -> None:
        """End the intake; the package under way is not entered, earlier ones stay."""
        self._stop.set()

    def check_again(self, then: Callable[[], None]) -> None:
        """Check the opened package once more; the earlier result stays beside the new one."""
        opened, practice, by = self.opened, self._place.practice, self.clerk

        def work() -> None:
            self._intake(practice, by).take(_there(opened.path), again=True)

        self.worker.run(
            work,
            lambda _: self.open(opened.entry.package["id"], then),
            self._place.refused,
            thread="desk",
        )

    def _intake(self, practice: bool, by: str):
        from evidence_app.desk.intake import Desk, Intake

        authority = self.settings.time_authority
        return Intake(self.register, Desk(by, self.key_list(), _bytes(authority), practice))

    def _take_all(self, paths: Sequence[Path], practice: bool, by: str) -> bool:
        """Whether it went on to the end."""
        from evidence_app.desk.intake import packages_below

        intake = self._intake(practice, by)
        packages: list[Path] = []
        for path in paths:
            try:
                packages += packages_below([path])
            except EvidenceError as error:
                self._arrived(refused_arrival(path, error))
        for number, path in enumerate(packages, start=1):
            if self._stop.is_set():
                return False
            watch = self._watch(Checking(path, number, len(packages)))
            try:
                self._arrived(arrival_of(intake.take(path, watch)))
            except _Cancelled:
                return False
        return True

    def _watch(self, began: Checking) -> Callable[[int, int], None]:
        """Told (bytes, all bytes) while a package is read and then again while it is checked."""
        seen = {"turn": 1, "done": 0, "at": 0.0}

        def watch(done: int, total: int) -> None:
            if self._stop.is_set():
                raise _Cancelled
            if done < seen["done"]:
                seen["turn"] = 2
            seen["done"] = done
            now = time.monotonic()
            if now - seen["at"] >= _TELL_EVERY_S:
                seen["at"] = now
                self._show(
                    msgspec.structs.replace(began, turn=seen["turn"], done=done, total=total)
                )

        self._show(began)
        return watch

    def _show(self, checking: Checking) -> None:
        def shown() -> None:
            self.checking = checking
            self._place.changed()

        self.worker.report(shown)

    def _arrived(self, arrival: Arrival) -> None:
        def shown() -> None:
            self.arrivals.insert(0, arrival)
            self._place.changed()

        self.worker.report(shown)

    def _taken_all(self, whole: bool) -> None:
        self.checking = None
        if not whole:
            self._place.tell(cancelled_notice())
        self._place.changed()

    def _not_taken(self, error: EvidenceError) -> None:
        self.checking = None
        self._place.refused(error)

    # --- one package ------------------------------------------------------------------

    def open(self, package: int, then: Callable[[], None]) -> None:
        """Look at package ``package``: at once what the register holds, then its contents."""

        def looked(opened: Opened) -> None:
            self.opened = opened
            then()
            self._place.changed()
            self.worker.run(lambda: _with_contents(opened), self._read, self._place.refused)

        self.worker.run(lambda: _look(self.register, package), looked, self._place.refused)

    def _read(self, opened: Opened) -> None:
        now = self.opened
        if now is not None and now.entry.package["id"] == opened.entry.package["id"]:
            self.opened = msgspec.structs.replace(
                now, contents=opened.contents, why_not=opened.why_not
            )
            self._place.changed()

    def decide(self, decision: str, reason: str, then: Callable[[], None]) -> None:
        """Enter the clerk's decision; earlier ones stay."""
        number, by, at = self.opened.entry.package["id"], self.clerk, self._place.clock.now().wall
        self.worker.run(
            lambda: self.register.decide(number, decision, reason, by, at),
            lambda _: self.open(number, then),
            self._place.refused,
        )

    def print(self, paper: str) -> None:
        """Write the opened package's report as PDF into a new file; says where it is."""
        opened, practice = self.opened, self._place.practice
        folder = locations.home() / "desk" / "printed"

        def work() -> Path:
            from evidence_app.desk.printing import print_report

            package = _there(opened.path)
            data = print_report(package, paper, self.key_list(), practice)
            folder.mkdir(parents=True, exist_ok=True)
            path = _new_name(folder / f"{package.stem}-{paper}.pdf")
            write_durably(path, data)
            return path

        self.worker.run(
            work, lambda path: self._place.tell(printed_notice(path)), self._place.refused
        )

    # --- review -----------------------------------------------------------------------

    def open_review(self, then: Callable[[], None]) -> None:
        """Check the opened package for a supervisor's review."""
        opened, practice = self.opened, self._place.practice

        def work() -> Review:
            from evidence_app.desk.review import open_review

            return open_review(_there(opened.path), self.key_list(), practice)

        def done(review: Review) -> None:
            self.review = review
            then()
            self._place.changed()

        self.worker.run(work, done, self._place.refused)

    def countersign(
        self, decision: str, reason: str, pin: str | None, then: Callable[[], None]
    ) -> None:
        """Sign the review with the supervisor's own key; made with ``pin`` when there is none."""
        review, settings, register = self.review, self.settings, self.register

        def work() -> None:
            from evidence_app.desk.review import sign_review
            from evidence_app.package.keys.signing_key import create_key, open_key

            path = settings.supervisor_key_path()
            if path.exists():
                key = open_key(path, pin)
            else:
                path.parent.mkdir(parents=True, exist_ok=True)
                key = create_key(path, pin)
            sign_review(review, decision, reason, settings.supervisor, key, register)

        number = self.opened.entry.package["id"]
        self.worker.run(
            work, lambda _: self.open(number, lambda: self.open_review(then)), self._place.refused
        )


def key_needs(path: Path) -> str:
    """ "new-pin" before there is a key, "pin" when it has one, "none" when unencrypted."""
    if not path.exists():
        return "new-pin"
    return "pin" if b"ENCRYPTED" in path.read_bytes() else "none"


def _new_name(path: Path) -> Path:
    """``path``, or with a number when there is one already: nothing is written over."""
    names = (path.with_stem(f"{path.stem}-{number}") for number in range(2, 10_000))
    return path if not path.exists() else next(name for name in names if not name.exists())


def _look(register: Register, package: int) -> Opened:
    from evidence_app.desk.search import latest_path, show

    entry = show(register, package)
    with register.lookup() as database:
        place = latest_path(database, package)
    return Opened(entry, Path(place) if place else None)


def _with_contents(opened: Opened) -> Opened:
    """What the register does not hold is read from the package, if that is still the same."""
    from evidence_app.desk.contents import read_contents

    try:
        contents = read_contents(_there(opened.path))
    except EvidenceError as error:
        return msgspec.structs.replace(opened, why_not=error.sentence())
    if contents.content_sha256 != opened.entry.package["content_sha256"]:
        error = PackageError(
            "another package is there now",
            where=str(opened.path),
            remedy="put back the one that was received",
        )
        return msgspec.structs.replace(opened, why_not=error.sentence())
    return msgspec.structs.replace(opened, contents=contents)


def _there(path: Path | None) -> Path:
    if path is None or not path.exists():
        raise PackageError(
            "the package is not where it was received from any more",
            where=str(path or "register"),
            remedy="put the disk back in, or take the package in from its new place",
        )
    return path


def _bytes(path: str) -> bytes | None:
    if not path:
        return None
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise EvidenceError(
            f"the file cannot be read ({error.strerror})",
            where=path,
            remedy="choose the file of time authorities again",
        ) from error
