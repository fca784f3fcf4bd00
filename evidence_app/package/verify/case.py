"""What the checks of one package share: its files, read once and with limits.

A check asks for a part; a part that cannot be had raises :class:`Unavailable`,
which makes that check ``not checked`` and says why. The check whose duty it is
to say what is wrong with the part reads it itself and reports.
"""

import hashlib
import re
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from functools import cached_property

from msgspec import Struct

from evidence_app import limits
from evidence_app.errors import EvidenceError
from evidence_app.job.summary.model import Summary
from evidence_app.job.summary.summarise import summarise
from evidence_app.package import bag, layout
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.layout import OriginalPlace, Seal
from evidence_app.package.roles import EVENT, REWORDED
from evidence_app.package.verify.digests import Digesting, Progress
from evidence_app.package.verify.journal_lines import read_line
from evidence_app.package.verify.result import WITHHELD, AlteredFile, CheckResult, fails, not_checked, said
from evidence_app.package.withheld import read_fetch
from evidence_app.package.zip.archive import Archive, read_all
from evidence_app.package.zip.names import name_problem, shown
from evidence_app.record.event import Event
from evidence_app.sentence import NOTHING, Sentence, sentence
from evidence_app.steplist.load import loads
from evidence_app.steplist.model import StepList

_MANIFEST_LINE = re.compile(rb"([0-9a-f]{64})  ([^\r\n]+)")
_NAMED_FOR_STEP = re.compile(r"data/(?:photos|markup|voice)/\d{4,}-(.+)-[0-9a-f]{8}(?:-\d+)?\.\w+")


class Unavailable(Exception):
    """A part that a check needs cannot be had; ``why`` says why."""

    def __init__(self, why: Sentence) -> None:
        self.why = why
        super().__init__(str(why))


def named(event: Event) -> dict[str, object]:
    """An event in a sentence: its {sequence} and its {kind}."""
    return {"sequence": event.sequence, "kind": event.kind}


class Defective(Exception):
    """A part is there and is not what it must be; ``problems`` say how."""

    def __init__(self, *problems: Sentence) -> None:
        self.problems = problems
        super().__init__("; ".join(map(str, problems)))


class Asked(Struct, frozen=True):
    """What the person who checks brings along, none of it from the package.

    ``key_list`` is the depot's, its signature checked when it was opened; ``time_authorities``
    is PEM with the roots trusted for time tokens; ``received_at`` (with offset) is when the desk
    got the package, a bound of its own. ``accept_practice`` lets practice material hold. Without
    ``compare_pictures``, which decodes every photo, only the words and sounds of the report are
    compared. A summary or report that another version worded passes with ``other_wording`` when
    its facts are the journal's, a copy from which files are withheld with ``disclosed``.
    ``step_lists`` gives the SHA-256 of the step list issued under an id and version; a job by
    another one fails ``conduct``. With ``measure_again`` every photo is judged and measured again.
    """

    key_list: KeyList | None = None
    time_authorities: bytes | None = None
    received_at: datetime | None = None
    accept_practice: bool = False
    compare_pictures: bool = True
    other_wording: bool = False
    disclosed: bool = False
    step_lists: Mapping[tuple[str, str], str] | None = None
    measure_again: bool = False


class Case:
    """One package under examination."""

    def __init__(self, archive: Archive, asked: Asked, progress: Progress | None = None) -> None:
        self.archive = archive
        self.asked = asked
        self.progress = progress
        self.previews: dict[str, bytes] = {}  # of photos, by SHA-256, where one was kept
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
        found = (self._digesting or Digesting(self.archive)).all(self.progress)
        self._hashed = True
        return found

    def has(self, name: str) -> bool:
        return name in self.archive.sizes

    def read(self, name: str, at_most: int = limits.TAG_FILE_BYTES) -> bytes:
        """A file's bytes. Raises Unavailable when it is missing, TooLarge beyond ``at_most``."""
        if not self.has(name):
            raise Unavailable(sentence("{name} is missing", name=name))
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
    def withheld(self) -> dict[str, int]:
        """Path to bytes of each file that a disclosed copy leaves out and names; empty for a whole
        package, and where the list of them is not in order, which the check of the bag says."""
        with suppress(Defective, Unavailable, ValueError, EvidenceError):
            return read_fetch(self.read(layout.FETCH), self.manifest, self.has(layout.ROLE_JOURNAL))
        return {}

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
            if self.digests.get(path, expected if path in self.withheld else None) != expected
        )

    @cached_property
    def seal(self) -> Seal | None:
        """The seal's content, whatever its signature is worth; None when it cannot be read."""
        try:
            return layout.read_seal(self.read(layout.SEAL))
        except (EvidenceError, Unavailable):
            return None

    def read_seal(self) -> Seal:
        """``seal`` where a check before has read it. Raises Unavailable."""
        if self.seal is None:
            raise Unavailable(sentence("the seal cannot be read"))
        return self.seal

    @cached_property
    def lines(self) -> list[bytes]:
        """The journal's lines, each with its newline. Raises Defective or Unavailable."""
        name = layout.ROLE_JOURNAL if self.has(layout.ROLE_JOURNAL) else layout.JOURNAL
        return split_journal(self.read(name, limits.TEXT_BYTES))

    @cached_property
    def reworded(self) -> frozenset[int]:
        """Places, from 1, of the lines in which a disclosed copy has roles; none where the journal
        cannot be read."""
        with suppress(Defective, Unavailable, EvidenceError):
            if self.has(layout.ROLE_JOURNAL):
                lines = enumerate(self.lines, start=1)
                return frozenset(number for number, line in lines if line.startswith(REWORDED))
        return frozenset()

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """The journal. Raises Defective or Unavailable."""
        events = []
        for number, line in enumerate(self.lines, start=1):
            if number in self.reworded:
                line = EVENT + line.removeprefix(REWORDED)
            try:
                events.append(read_line(line, f"{layout.JOURNAL} line {number}"))
            except EvidenceError as error:
                raise Defective(*said(error)) from error
        return tuple(events)

    @cached_property
    def places(self) -> tuple[OriginalPlace, ...]:
        """Every original that the journal names. Raises Defective or Unavailable."""
        try:
            return layout.place_originals(self.events)
        except EvidenceError as error:
            raise Defective(*said(error)) from error

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
            raise Unavailable(sentence("the step list in the package is not the one the journal names"))
        try:
            return loads(data, layout.STEP_LIST)
        except EvidenceError as error:
            raise Defective(*said(error)) from error

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
            raise Unavailable(
                sentence("the original {sha256} is not in the package", sha256=shown(str(sha256)))
            )
        data = self.read(name, limits.TEXT_BYTES)
        if not self._hashed and hashlib.sha256(data).hexdigest() != sha256:
            raise Unavailable(
                sentence("{name} is not what the journal names: its SHA-256 is another", name=name)
            )
        return data


def parse_manifest(data: bytes, where: str) -> dict[str, str]:
    """The lines of a manifest (RFC 8493 2.1.3 and 2.2.1), strictly as the app writes them.

    Digest in lower case, two spaces, path; one LF behind each line; no path
    twice. Raises Defective naming each line that is otherwise.
    """
    problems = []
    digests: dict[str, str] = {}
    if not data.endswith(b"\n"):
        problems.append(sentence("{where}: does not end in a line break", where=where))
    for number, line in enumerate(data.removesuffix(b"\n").split(b"\n"), start=1):
        parsed = _MANIFEST_LINE.fullmatch(line)
        problem = _take_manifest_line(parsed, digests)
        if problem:
            problems.append(
                sentence("{where} line {number}: {problem}", where=where, number=number, problem=problem)
            )
    if problems:
        raise Defective(*problems[: limits.LISTED_DEFECTS])
    return digests


def _take_manifest_line(parsed: re.Match[bytes] | None, digests: dict[str, str]) -> Sentence:
    """Enter one line into ``digests``, or say what is wrong with it."""
    if parsed is None:
        return sentence("is not a SHA-256, two spaces and a path")
    try:
        path = bag.decode_path(parsed[2].decode("utf-8"))
    except ValueError:
        return sentence("names a path that is not UTF-8 as BagIt writes it")
    problem = name_problem(path)
    if problem:
        return sentence("names {path}, which {problem}", path=shown(path), problem=problem)
    if path in digests:
        return sentence("names {path} a second time", path=path)
    digests[path] = parsed[1].decode("ascii")
    return NOTHING


def split_journal(data: bytes) -> list[bytes]:
    """The lines of journal.jsonl with their newlines. Raises Defective."""
    if not data:
        raise Defective(sentence("{file}: is empty", file=layout.JOURNAL))
    lines = [line + b"\n" for line in data.removesuffix(b"\n").split(b"\n")]
    if not data.endswith(b"\n"):
        raise Defective(
            sentence("{file} line {count}: is cut short", file=layout.JOURNAL, count=len(lines))
        )
    if len(lines) > limits.EVENTS:
        raise Defective(
            sentence("{file}: has more than {most} lines", file=layout.JOURNAL, most=limits.EVENTS)
        )
    for number, line in enumerate(lines, start=1):
        if len(line) > limits.LINE_BYTES:
            raise Defective(
                sentence(
                    "{file} line {number}: is longer than {most} bytes",
                    file=layout.JOURNAL,
                    number=number,
                    most=limits.LINE_BYTES,
                )
            )
    return lines


def step_of(path: str) -> str | None:
    """The step that a payload file belongs to, by its name; None for files of the whole job."""
    named = _NAMED_FOR_STEP.fullmatch(path)
    return named[1] if named else None


def unseen(case: Case, check: str, path: str, told: str) -> CheckResult | None:
    """The result of a check whose file at ``path`` is withheld, or missing as the template ``told``
    says; None where it is there."""
    if path in case.withheld:
        return not_checked(check, "it is withheld from this copy; its checksum is known", WITHHELD)
    return None if case.has(path) else fails(check, told, [sentence("{file}: is missing", file=path)])


def is_earlier(form: str, known: str) -> bool:
    """Whether ``form``, such as ``evidence-record/1``, is a lower number of the format ``known``."""
    name, _, number = known.rpartition("/")
    given = re.fullmatch(rf"{re.escape(name)}/([0-9]{{1,4}})", form)
    return given is not None and int(given[1]) < int(number)


def other_wording(form: str, known: str) -> Sentence:
    """Why something that differs may still be right: an earlier version worded it otherwise."""
    return sentence(
        "its facts are those of the journal, but it is written as {form} and this app writes "
        "{known}: its other words were not compared; check it with the version that made it",
        form=form,
        known=known,
    )
