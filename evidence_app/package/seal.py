"""Turns a closed job into its sealed package.

Reads the job and changes nothing in it. No clock is read and nothing random
enters, so the same journal and the same key give the same bytes (with the same
version of the app and of the picture library that makes the report's previews).
The package appears under its name whole or not at all, and a package that is
there is never replaced by another.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import BinaryIO

from msgspec import Struct

from evidence_app import __version__, limits
from evidence_app.errors import PackageError, RecordError
from evidence_app.job.rules.owed import owed_anywhere, owed_now
from evidence_app.job.state.fold import fold
from evidence_app.job.summary.summarise import summarise, to_bytes
from evidence_app.package import bag, layout
from evidence_app.package.durable import durable_file, storage_errors
from evidence_app.package.keys.handover import check_chain, kept
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.package.layout import OriginalPlace, Seal, SealedStepList
from evidence_app.package.report.page import render_report
from evidence_app.package.report.previews import Embedded
from evidence_app.package.zip.writing import CHUNK, ZipWriter, zip_time
from evidence_app.record.event import Event, verify_chain
from evidence_app.record.record import Record
from evidence_app.release import release
from evidence_app.sentence import Sentence, joined, sentence, sentences_beside
from evidence_app.steplist.model import StepList

_WORDS = sentences_beside(__file__)

_OWED_SHOWN = 3

_Payload = dict[str, tuple[str, int]]
"""Path of each payload file to its SHA-256 and size in bytes."""

# Work done and work to do, in bytes of originals: each is counted once when it
# is copied and once when the report has looked at it.
Progress = Callable[[int, int], None]


class SealedPackage(Struct, frozen=True):
    """What sealing gave. ``already_there`` when the same package existed before;
    ``bytes`` is the size of the ZIP file, ``files`` the number of payload files."""

    path: Path
    fingerprint: str
    seal: Seal
    files: int
    bytes: int
    already_there: bool


def seal_job(
    record: Record, step_list: StepList, key: SigningKey, out_folder: Path, progress: Progress | None = None
) -> SealedPackage:
    """Seal the closed job ``record`` into ``out_folder``.

    ``step_list`` is the one that the job was opened with. Raises PackageError
    when the job is not closed, when its journal or an original is damaged
    (naming it), or when another package has the name; StorageFull when the
    disk is full. Nothing is left under the package's name then.
    """
    events = record.events
    _refuse_unsealable(record, step_list)
    places = layout.place_originals(events)
    top = layout.top_folder(events[0].body["claim"], events[0].body["job"])
    final = out_folder / f"{top}.zip"
    with storage_errors(out_folder):
        out_folder.mkdir(parents=True, exist_ok=True)
    with durable_file(final) as file:
        work = _Work(sum(place.bytes for place in places), progress)
        with ZipWriter(file, top, zip_time(events[-1].wall), work.copied) as writer:
            payload = _write_payload(writer, record, step_list, key, places, work)
            seal = _write_tag_files(writer, events, key, payload)
        work.finish()
        already_there = _same_or_refuse(final, file)
        size = file.seek(0, 2)
    return SealedPackage(final, seal.fingerprint, seal, len(payload), size, already_there)


def _refuse_unsealable(record: Record, step_list: StepList) -> None:
    events = record.events
    where = str(record.folder)
    if not events or events[0].kind != "job-opened":
        raise PackageError(sentence("there is no job in this folder"), where=where)
    if events[-1].kind != "job-closed":
        raise PackageError.worded(_WORDS["not-closed"], where, still_owed=_still_owed(step_list, events))
    problems = verify_chain(events)
    if problems:
        raise PackageError(sentence("the journal is broken: {problem}", problem=problems[0]), where=where)
    named = events[0].body["step_list"]
    if (named["id"], named["version"]) != (step_list.id, step_list.version):
        raise PackageError.worded(
            _WORDS["other-list"],
            where,
            named=named["id"],
            named2=named["version"],
            id=step_list.id,
            version=step_list.version,
        )


def _still_owed(step_list: StepList, events: Sequence[Event]) -> Sentence:
    """What the job still owes, the first few things of it, as part of a sentence."""
    state = fold(events)
    working = state.phase == "working"
    owed = owed_anywhere(step_list, state) if working else owed_now(step_list, state)
    if not owed:
        return sentence("nothing more is required but closing it")
    named = joined(" ", (each.sentence for each in owed[:_OWED_SHOWN]))
    if len(owed) > _OWED_SHOWN:
        return sentence(
            "still required: {listed} (and {more} more)", listed=named, more=len(owed) - _OWED_SHOWN
        )
    return sentence("still required: {listed}", listed=named)


def _write_payload(
    writer: ZipWriter,
    record: Record,
    step_list: StepList,
    key: SigningKey,
    places: Sequence[OriginalPlace],
    work: _Work,
) -> _Payload:
    """Originals first: each is proved whole before the report looks into it."""
    payload: _Payload = {}
    for place in places:
        writer.add_file(place.path, _source(record, place), place.bytes, place.sha256)
        payload[place.path] = (place.sha256, place.bytes)
    summary = summarise(step_list, record.events)
    derived = {
        layout.JOURNAL: b"".join(record.journal_lines()),
        layout.RECORD: to_bytes(summary),
        layout.REPORT: render_report(
            summary,
            fingerprint=layout.fingerprint(record.head, key.sha256),
            head=record.head,
            device_key_sha256=key.sha256,
            embedded=Embedded(lambda sha256: record.path_of(sha256).read_bytes(), kept=record.derived),
            path_in_package={place.sha256: place.path for place in places}.__getitem__,
            progress=work.looked_at,
        ),
    }
    for path, data in derived.items():
        payload[path] = (writer.add_bytes(path, data), len(data))
    if len(payload) > limits.PACKAGE_FILES:
        counts = {"count": len(payload), "MAX_FILES": limits.PACKAGE_FILES}
        what = sentence("the job has {count} files, a package holds at most {MAX_FILES}", **counts)
        raise PackageError(what, where=str(record.folder))
    return payload


def _source(record: Record, place: OriginalPlace) -> Path:
    try:
        return record.path_of(place.sha256)
    except RecordError as error:
        raise PackageError(
            sentence("{problem}, so the job was not sealed", problem=error.what),
            where=sentence("event {number}", number=place.sequence),
            remedy=error.remedy,
        ) from error


def _write_tag_files(
    writer: ZipWriter, events: Sequence[Event], key: SigningKey, payload: _Payload
) -> Seal:
    manifest = bag.manifest({path: sha256 for path, (sha256, _) in payload.items()})
    listed = {
        layout.BAGIT: bag.BAGIT_TXT,
        layout.BAG_INFO: bag.bag_info(
            closed_at=events[-1].wall,
            identifier=events[0].body["claim"],
            payload_sizes=[size for _, size in payload.values()],
            software=f"evidence-app {__version__}",
            organization=_depot(events),
        ),
        layout.MANIFEST: manifest,
        layout.DEVICE_KEY: key.public_pem,
    }
    chain = kept(key.folder, key.sha256)
    check_chain(chain, key.sha256)
    for names, signed in zip(layout.handover_names(len(chain)), chain, strict=True):
        listed |= zip(names, signed, strict=True)
    digests = {path: writer.add_bytes(path, data) for path, data in listed.items()}
    tag_manifest = bag.manifest(digests)
    writer.add_bytes(layout.TAG_MANIFEST, tag_manifest)
    seal = _seal(events, key, digests[layout.MANIFEST], hashlib.sha256(tag_manifest).hexdigest())
    sealed = layout.seal_bytes(seal)
    writer.add_bytes(layout.SEAL, sealed)
    writer.add_bytes(layout.SEAL_SIGNATURE, key.sign(sealed))
    return seal


def _seal(events: Sequence[Event], key: SigningKey, manifest: str, tag_manifest: str) -> Seal:
    opened, closed = events[0], events[-1]
    step_list = opened.body["step_list"]
    return Seal(
        format=layout.SEAL_FORMAT,
        app=release(),
        job=opened.body["job"],
        claim=opened.body["claim"],
        serial=opened.body["device"]["serial"],
        outcome=closed.body["outcome"],
        practice=opened.body["practice"],
        step_list=SealedStepList(step_list["id"], step_list["version"], step_list["sha256"]),
        opened_at=opened.wall,
        closed_at=closed.wall,
        events=len(events),
        journal_head=closed.hash,
        payload_manifest_sha256=manifest,
        tag_manifest_sha256=tag_manifest,
        device_key_sha256=key.sha256,
        fingerprint=layout.fingerprint(closed.hash, key.sha256),
    )


def _depot(events: Sequence[Event]) -> str | None:
    """The organisation that the bag names: the one whose ticket opened the job."""
    return next((e.body["depot"] for e in events if e.kind == "ticket-opened"), None)


def _same_or_refuse(final: Path, new: BinaryIO) -> bool:
    """Is the new package there already? Raises PackageError when another is."""
    try:
        with final.open("rb") as old:
            new.seek(0)
            while (chunk := new.read(CHUNK)) == old.read(CHUNK):
                if not chunk:
                    return True
    except FileNotFoundError:
        return False
    raise PackageError.worded(_WORDS["name-taken"], str(final))


class _Work:
    """Adds up the work for a progress bar, which never goes back."""

    def __init__(self, originals: int, progress: Progress | None) -> None:
        self._originals = originals
        self._copied = self._told = 0
        self._progress = progress or (lambda done, total: None)

    def copied(self, count: int) -> None:
        self._copied += count
        self._tell(min(self._copied, self._originals))

    def looked_at(self, pictures: int, of: int) -> None:
        self._tell(self._originals + self._originals * pictures // max(of, 1))

    def finish(self) -> None:
        self._tell(2 * self._originals)

    def _tell(self, done: int) -> None:
        self._told = max(self._told, done)
        self._progress(self._told, 2 * self._originals)
