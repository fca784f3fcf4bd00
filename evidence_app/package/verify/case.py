"""What the checks of one package share: its files, read once and with limits.

A check asks for a part; a part that cannot be had raises :class:`Unavailable`,
which makes that check ``not checked`` and says why. The check whose duty it is
to say what is wrong with the part reads it itself and reports.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from functools import cached_property

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.summary.model import Summary
from evidence_app.job.summary.summarise import summarise
from evidence_app.package import bag, layout
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.layout import OriginalPlace, Seal
from evidence_app.package.verify.digests import Digesting, Progress
from evidence_app.package.verify.journal_lines import read_line
from evidence_app.package.verify.result import AlteredFile
from evidence_app.package.zip.archive import Archive, read_all
from evidence_app.package.zip.names import name_problem, shown
from evidence_app.record.event import Event
from evidence_app.steplist.load import loads
from evidence_app.steplist.model import StepList

MAX_LINE_BYTES = 2**20
MAX_EVENTS = 1_000_000
MAX_ITEMS = 50

_MANIFEST_LINE = re.compile(rb"([0-9a-f]{64})  ([^\r\n]+)")
_NAMED_FOR_STEP = re.compile(r"data/(?:photos|markup|voice)/\d{4,}-(.+)-[0-9a-f]{8}(?:-\d+)?\.\w+")


class Unavailable(Exception):
    """A part that a check needs cannot be had; the message says why."""


class Defective(Exception):
    """A part is there and is not what it must be; ``problems`` say how."""

    def __init__(self, *problems: str) -> None:
        self.problems = problems
        super().__init__("; ".join(problems))


class Asked(Struct, frozen=True):
    """What the person who checks brings along, none of it from the package.

    ``time_authorities`` is PEM; ``received_at`` (with offset) is when the desk
    got the package.
    """

    key_list: KeyList | None = None
    time_authorities: bytes | None = None
    received_at: datetime | None = None
    accept_practice: bool = False
    compare_pictures: bool = True


class Case:
    """One package under examination."""

    def __init__(self, archive: Archive, asked: Asked, progress: Progress | None = None) -> None:
        self.archive = archive
        self.asked = asked
        self._progress = progress
        self._digesting: Digesting | None = None
        self._hashed = False

    def begin_digests(self) -> None:
        """Have every file read and hashed while other checks are made."""
        self._digesting = Digesting(self.archive)

    def end_digests(self) -> None:
        """Stop reading, whether or not anybody still wanted the digests."""
        if self._digesting:
            self._digesting.stop()

    @cached_property
    def digests(self) -> dict[str, str]:
        """SHA-256 of every file in the package, by name."""
        found = (self._digesting or Digesting(self.archive)).all(self._progress)
        self._hashed = True
        return found

    def has(self, name: str) -> bool:
        return name in self.archive.sizes

    def read(self, name: str, at_most: int = layout.MAX_TAG_FILE_BYTES) -> bytes:
        """A file's bytes. Raises Unavailable when it is missing, TooLarge beyond ``at_most``."""
        if not self.has(name):
            raise Unavailable(f"{name} is missing")
        return read_all(self.archive, name, at_most)

    @property
    def payload(self) -> list[str]:
        return sorted(name for name in self.archive.sizes if name.startswith("data/"))

    @cached_property
    def manifest(self) -> dict[str, str]:
        """Payload path to SHA-256. Raises Defective or Unavailable."""
        return parse_manifest(self.read(layout.MANIFEST), layout.MANIFEST)

    @cached_property
    def tag_manifest(self) -> dict[str, str]:
        """Tag file to SHA-256. Raises Defective or Unavailable."""
        return parse_manifest(self.read(layout.TAG_MANIFEST), layout.TAG_MANIFEST)

    @cached_property
    def altered(self) -> tuple[AlteredFile, ...]:
        """The listed files that are missing or have another SHA-256, as far as lists can be read."""
        listed: dict[str, str] = {}
        for part in ("manifest", "tag_manifest"):
            with suppress(Defective, Unavailable):
                listed |= getattr(self, part)
        return tuple(
            AlteredFile(path, step_of(path), expected, self.digests.get(path))
            for path, expected in sorted(listed.items())
            if self.digests.get(path) != expected
        )

    @cached_property
    def seal(self) -> Seal | None:
        """The seal's content, whatever its signature is worth; None when it cannot be read."""
        try:
            return layout.read_seal(self.read(layout.SEAL))
        except (EvidenceError, Unavailable):
            return None

    @cached_property
    def lines(self) -> list[bytes]:
        """The journal's lines, each with its newline. Raises Defective or Unavailable."""
        return split_journal(self.read(layout.JOURNAL, layout.MAX_TEXT_BYTES))

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """The journal. Raises Defective or Unavailable."""
        events = []
        for number, line in enumerate(self.lines, start=1):
            try:
                events.append(read_line(line, f"{layout.JOURNAL} line {number}"))
            except EvidenceError as error:
                raise Defective(error.sentence()) from error
        return tuple(events)

    @cached_property
    def places(self) -> tuple[OriginalPlace, ...]:
        """Every original that the journal names. Raises Defective or Unavailable."""
        try:
            return layout.place_originals(self.events)
        except EvidenceError as error:
            raise Defective(error.sentence()) from error

    @cached_property
    def path_of(self) -> dict[str, str]:
        """Where the original with a SHA-256 is to stand. Raises Defective or Unavailable."""
        return {place.sha256: place.path for place in reversed(self.places)}

    def find_original(self, sha256: str) -> str | None:
        """Where the original with this SHA-256 is: by its bytes once every file was hashed, by
        the place that the journal gives it before that. Raises Defective or Unavailable."""
        if self._hashed:
            return self._by_digest.get(sha256)
        path = self.path_of.get(sha256)
        return path if path is not None and self.has(path) else None

    @cached_property
    def _by_digest(self) -> dict[str, str]:
        return {self.digests[name]: name for name in reversed(self.payload)}

    @cached_property
    def step_list(self) -> StepList:
        """The step list that the job was opened with, as its bytes stand in the package.

        Raises Unavailable when the package holds other bytes than the journal
        names, Defective when they are no step list.
        """
        data = self.read(layout.STEP_LIST)
        named = self.events[0].body.get("step_list")
        if not isinstance(named, dict) or named.get("sha256") != hashlib.sha256(data).hexdigest():
            raise Unavailable("the step list in the package is not the one the journal names")
        try:
            return loads(data, layout.STEP_LIST)
        except EvidenceError as error:
            raise Defective(*error.sentence().splitlines()) from error

    @cached_property
    def summary(self) -> Summary:
        """What the journal gives by its step list. Raises as ``step_list`` and ``events``."""
        return summarise(self.step_list, self.events)

    def load_original(self, sha256: str) -> bytes:
        """The bytes of the original with this SHA-256, which they are held against unless it
        was by their hash that they were found.

        Raises Unavailable when they are not in their place, Defective as ``places``.
        """
        name = self.find_original(sha256)
        if name is None:
            raise Unavailable(f"the original {shown(str(sha256))} is not in the package")
        data = self.read(name, layout.MAX_TEXT_BYTES)
        if not self._hashed and hashlib.sha256(data).hexdigest() != sha256:
            raise Unavailable(f"{name} is not what the journal names: its SHA-256 is another")
        return data


def parse_manifest(data: bytes, where: str) -> dict[str, str]:
    """The lines of a manifest (RFC 8493 2.1.3 and 2.2.1), strictly as the app writes them.

    Digest in lower case, two spaces, path; one LF behind each line; no path
    twice. Raises Defective naming each line that is otherwise.
    """
    problems = []
    digests: dict[str, str] = {}
    if not data.endswith(b"\n"):
        problems.append(f"{where}: does not end in a line break")
    for number, line in enumerate(data.removesuffix(b"\n").split(b"\n"), start=1):
        parsed = _MANIFEST_LINE.fullmatch(line)
        try:
            if parsed is None:
                raise ValueError("is not a SHA-256, two spaces and a path")
            path = bag.decode_path(parsed[2].decode("utf-8"))
            problem = name_problem(path)
            if problem:
                raise ValueError(f"names {shown(path)}, which {problem}")
            if path in digests:
                raise ValueError(f"names {path} a second time")
            digests[path] = parsed[1].decode("ascii")
        except ValueError as error:
            problems.append(f"{where} line {number}: {error}")
    if problems:
        raise Defective(*problems[:MAX_ITEMS])
    return digests


def split_journal(data: bytes) -> list[bytes]:
    """The lines of journal.jsonl with their newlines. Raises Defective."""
    if not data:
        raise Defective(f"{layout.JOURNAL}: is empty")
    lines = [line + b"\n" for line in data.removesuffix(b"\n").split(b"\n")]
    if not data.endswith(b"\n"):
        raise Defective(f"{layout.JOURNAL} line {len(lines)}: is cut short")
    if len(lines) > MAX_EVENTS:
        raise Defective(f"{layout.JOURNAL}: has more than {MAX_EVENTS} lines")
    for number, line in enumerate(lines, start=1):
        if len(line) > MAX_LINE_BYTES:
            raise Defective(
                f"{layout.JOURNAL} line {number}: is longer than {MAX_LINE_BYTES} bytes"
            )
    return lines


def step_of(path: str) -> str | None:
    """The step that a payload file belongs to, by its name; None for files of the whole job."""
    named = _NAMED_FOR_STEP.fullmatch(path)
    return named[1] if named else None


def first_items(problems: Sequence[str]) -> tuple[str, ...]:
    """At most MAX_ITEMS of them, and then how many more there are."""
    if len(problems) <= MAX_ITEMS:
        return tuple(problems)
    return (*problems[:MAX_ITEMS], f"and {len(problems) - MAX_ITEMS} more")


def other_version(app: str) -> str:
    """Why something that differs may still be right: another version words it otherwise."""
    return (
        f"it says that version {shown(app)} of the app made it, and this version words it in "
        "another way; do not rely on it, or check it with that version"
    )
