"""What the desk needs of a package besides its checks: identity, facts, words, photos.

Reads what can be read and never raises for a hostile package: what a part says
is worth no more than the checks, which are kept beside it.
"""

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import UTC
from pathlib import Path

from msgspec import Struct

from evidence_app.errors import EvidenceError, turned
from evidence_app.job.summary.model import Summary
from evidence_app.job.summary.model_step import NoteRecord, PhotoRecord, ReadingRecord
from evidence_app.package import layout
from evidence_app.package.layout import Seal
from evidence_app.package.verify.case import Asked, Case, Defective, Unavailable
from evidence_app.package.verify.digests import Progress
from evidence_app.package.zip.archive import Archive, Elsewhere, Unreadable, open_archive
from evidence_app.reading import sha256_of
from evidence_app.record.event import Event
from evidence_app.record.times import parse
from evidence_app.sentence import Sentence, sentence


class PhotoInside(Struct, frozen=True):
    """One photo of a package: its original's SHA-256 and where it stands in the bag."""

    sha256: str
    path: str
    sequence: int
    step: str | None
    wanted: str | None
    purpose: str | None


class Contents(Struct, frozen=True):
    """One package, read once.

    ``content_sha256`` is over every file but the time token, so that a package is
    recognised as a ZIP, as a folder and after a token was added. ``unreadable``
    says why nothing else could be had. ``seal_sha256`` is that of seal.json's bytes. ``origin`` is
    the address, ETag and size under which it was listed in bulk.
    """

    place: Path | Elsewhere
    kind: str
    bytes: int
    content_sha256: str
    unreadable: Sentence | None = None
    seal: Seal | None = None
    seal_sha256: str | None = None
    summary: Summary | None = None
    photos: tuple[PhotoInside, ...] = ()
    origin: tuple[str, str, int] | None = None

    @property
    def path(self) -> Path:
        """Where it is on this computer; nothing asks that of one that is read elsewhere."""
        assert isinstance(self.place, Path)
        return self.place

    def words(self) -> Iterator[tuple[str, str]]:
        """Every note, transcript and reason in it, as (where from, text)."""
        return _words(self.summary) if self.summary else iter(())

    def readings(self) -> Iterator[tuple[ReadingRecord, str]]:
        """Every reading with the value that counts."""
        for step in self.summary.steps if self.summary else ():
            for reading in step.readings:
                for entry in reading.entries:
                    if entry.counts:
                        yield reading, entry.value


def read_contents(path: Path | Elsewhere, progress: Progress | None = None) -> Contents:
    """Read the package at ``path``.

    A file that is no readable package gives Contents with ``unreadable``. Raises
    Unreadable when not even its bytes can be read to the end, or it is not there.
    """
    try:
        archive = open_archive(path)
    except Unreadable as error:
        return _unreadable(path, error)
    if archive.problems:
        return Contents(path, archive.kind, _size(path), _digest_of_listing(path, archive))
    case = Case(archive, Asked(), progress)
    digests = case.digests
    return Contents(
        place=path,
        kind=archive.kind,
        bytes=sum(archive.sizes.values()) if archive.kind == "folder" else _size(path),
        content_sha256=content_sha256(digests),
        seal=case.seal,
        seal_sha256=digests.get(layout.SEAL),
        summary=summary_of(case),
        photos=tuple(_photos(case)),
    )


def content_sha256(digests: Mapping[str, str]) -> str:
    """What a package is recognised by, from the SHA-256 of each of its files by path."""
    identity = "".join(
        f"{digests[name]}  {name}\n" for name in sorted(digests) if name != layout.TIME_TOKEN
    )
    return hashlib.sha256(identity.encode()).hexdigest()


def summary_of(case: Case) -> Summary | None:
    """The summary made from the journal; None when the journal does not give one."""
    try:
        return case.summary
    except Unreadable:
        raise
    except Exception:
        # A hostile journal may break what no check foresaw; verify says what is wrong with it.
        return None


def photos_of(summary: Summary) -> list[PhotoRecord]:
    """Every photo of a job, wherever it belongs, in the order they were taken."""
    told = [*(photo for step in summary.steps for photo in step.photos), *summary.general_photos]
    if summary.stop:
        shown = {photo.sequence for photo in told}
        told += [photo for photo in summary.stop.photos if photo.sequence not in shown]
    return sorted(told, key=lambda photo: photo.sequence)


def closed_in_utc(closed_at: str | None) -> str | None:
    """A closing time as a UTC text that sorts and compares; None when it is no time."""
    with suppress(ValueError, TypeError):
        return parse(closed_at).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
    return None


def _photos(case: Case) -> Iterator[PhotoInside]:
    try:
        places = {place.sha256: place for place in case.places if place.role == "photo"}
        told: dict[str, Event] = {}
        for event in case.events:
            if event.kind == "photo-taken" and isinstance(event.body.get("photo"), dict):
                told.setdefault(event.body["photo"].get("sha256"), event)
    except (Unavailable, Defective, EvidenceError):
        return
    for sha256, place in places.items():
        if case.digests.get(place.path) is not None:
            event = told[sha256]
            yield PhotoInside(
                sha256,
                place.path,
                place.sequence,
                event.step,
                _text(event.body.get("wanted")),
                _text(event.body.get("purpose")),
            )


def _words(summary: Summary) -> Iterator[tuple[str, str]]:
    for step in summary.steps:
        yield from _note_words(step.notes, f"step {step.id}")
    yield from _note_words(summary.general_notes, "whole job")
    if summary.stop:
        yield from _note_words(summary.stop.notes, "after the stop")
        if summary.stop.reason:
            yield "reason of the stop", summary.stop.reason
    if summary.outcome.reason:
        yield "reason of the outcome", summary.outcome.reason
    for photo in photos_of(summary):
        if photo.kept_reason:
            yield f"photo kept, event {photo.sequence}", photo.kept_reason
    for line in summary.ledger:
        yield from ((f"count of {line.id}", reason) for reason in line.reasons)
    for correction in summary.corrections:
        if correction.text:
            yield f"correction of event {correction.of}", correction.text


def _note_words(notes: tuple[NoteRecord, ...], where: str) -> Iterator[tuple[str, str]]:
    for note in notes:
        if note.text:
            yield f"note, {where}", note.text
        if note.transcript:
            yield f"transcript, {where}", note.transcript.corrected or note.transcript.text


def _unreadable(path: Path | Elsewhere, error: Unreadable) -> Contents:
    """Contents of a file of which only the bytes can be had. Raises ``error`` when not even they."""
    if isinstance(path, Path) and not path.is_file():
        raise error
    try:
        digest = _sha256(path)
    except OSError:
        raise error from None
    return Contents(path, "unreadable", _size(path), digest, unreadable=error.what)


def _digest_of_listing(path: Path | Elsewhere, archive: Archive) -> str:
    """A package whose listing is refused is never read; a file is then named by its own bytes."""
    if isinstance(path, Path) and archive.kind == "folder":
        listing = "\n".join((str(path.resolve()), *map(str, archive.problems)))
        return hashlib.sha256(listing.encode("utf-8", "replace")).hexdigest()
    what = sentence("reading failed ({strerror})")
    with turned(OSError, Unreadable, what, str(path)):
        return _sha256(path)


def _sha256(path: Path | Elsewhere) -> str:
    if isinstance(path, Path):
        return sha256_of(path)
    digest = hashlib.sha256()
    for piece in path.pieces():
        digest.update(piece)
    return digest.hexdigest()


def _size(path: Path | Elsewhere) -> int:
    if isinstance(path, Elsewhere):
        return path.size
    with suppress(OSError):
        return path.stat().st_size
    return 0


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
