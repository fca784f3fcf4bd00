"""From a command's bytes to originals in the store, and what was read from them.

Called only for a command that the rules have let through, before its event.
"""

import io
import os
from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from evidence_app import limits
from evidence_app.errors import Refused, turned
from evidence_app.job import commands as c
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import refuse
from evidence_app.job.rules.notes_devices import RATE
from evidence_app.job.rules.situation import Stored
from evidence_app.photo.intake import read_header
from evidence_app.prepared import prepare
from evidence_app.record import times
from evidence_app.record.originals import OriginalRef
from evidence_app.record.record import Record
from evidence_app.sentence import sentence, sentences_beside

BYTES_CARRIERS = (c.TakePhoto, c.FinishNote, c.OpenTicket, c.RecordMeasurement)

_WORDS = sentences_beside(__file__)
_SIGNATURE_BYTES = 64  # raw Ed25519, RFC 8032


class _TicketFacts(Struct, frozen=True):
    """The parts of a ticket that the job records; its signature is not checked here."""

    format: str
    nonce: Annotated[str, Meta(min_length=1, max_length=200)]
    issued_at: str
    depot: Annotated[str, Meta(min_length=1, max_length=200)]
    claim: str | None = None
    asked: dict[str, str] | None = None


def store(record: Record, command: c.Command, opened: v.JobOpened | None) -> Stored:
    """Stores what ``command`` carries.

    ``opened`` has the job's claim number and step list, which a ticket may name. Raises
    PhotoError or Refused before anything is stored, StorageFull, RecordError.
    """
    if isinstance(command, c.TakePhoto):
        return _photo(record, command)
    if isinstance(command, c.FinishNote):
        return _note(record, command)
    if isinstance(command, c.OpenTicket):
        return _ticket(record, command, opened)
    if isinstance(command, c.RecordMeasurement):
        markup = command.markup
        return Stored({"markup": _ref(record.store(markup, "image/png"))} if markup else {})
    return Stored({})


def _photo(record: Record, command: c.TakePhoto) -> Stored:
    header = read_header(command.data, command.source["name"])
    ref = _ref(record.store(command.data, "image/jpeg"))
    return Stored({"photo": ref}, {"width": header.width, "height": header.height})


def _note(record: Record, command: c.FinishNote) -> Stored:
    if not command.audio or not (frames := _frames(command.audio)):
        return Stored({})
    ref = _ref(record.store(command.audio, "audio/flac"))
    return Stored({"audio": ref}, {"seconds": round(frames / RATE, 3)})


def _frames(audio: bytes | Path) -> int:
    """Length in samples of a note's FLAC. Raises Refused when it is no such thing."""
    import soundfile  # here: only the end of a note needs it

    source = io.BytesIO(audio) if isinstance(audio, bytes) else os.fsencode(audio)
    what = sentence("the voice note cannot be read ({problem})")
    remedy = sentence("check the disk; the sound stays in the job's scratch folder")
    with turned(soundfile.SoundFileError, Refused, what, sentence("voice note"), remedy):
        info = soundfile.info(source)
    if (info.format, info.samplerate, info.channels) != ("FLAC", RATE, 1):
        refuse(
            "the voice note is {format}, {samplerate} Hz, {channels} channels",
            "hand in FLAC, {RATE} Hz, one channel",
            where=sentence("voice note"), format=info.format, samplerate=info.samplerate,
            channels=info.channels, RATE=RATE,
        )  # fmt: skip
    return info.frames


def _ticket(record: Record, command: c.OpenTicket, opened: v.JobOpened | None) -> Stored:
    facts = _read_ticket(command.ticket)
    claim, ticket = opened.claim if opened else "", sentence("ticket")
    if facts.asked and opened and facts.asked.get("step_list_sha256") != opened.step_list.sha256:
        raise Refused.worded(_WORDS["other-list"], ticket)
    if facts.claim is not None and facts.claim != claim:
        raise Refused.worded(_WORDS["other-claim"], ticket, one=facts.claim, other=claim)
    if len(command.signature) != _SIGNATURE_BYTES:
        count = len(command.signature)
        raise Refused.worded(_WORDS["no-signature"], ticket, count=count, wanted=_SIGNATURE_BYTES)
    refs = {
        "ticket": _ref(record.store(command.ticket, "application/json")),
        "signature": _ref(record.store(command.signature, "application/octet-stream")),
    }
    return Stored(refs, {"nonce": facts.nonce, "issued_at": facts.issued_at, "depot": facts.depot})


def _read_ticket(data: bytes) -> _TicketFacts:
    what = sentence("this is not a ticket that can be used: {problem}")
    remedy = sentence("ask the depot for a new ticket, or go on without one")
    with turned(ValueError, Refused, what, sentence("ticket"), remedy):  # msgspec's errors are such too
        if len(data) > limits.TICKET_BYTES:
            raise ValueError("it is too large")
        facts = msgspec.json.decode(data, type=_TicketFacts)
        if not facts.format.startswith("evidence-ticket/"):
            raise ValueError(f"its format is “{facts.format}”")
        times.parse(facts.issued_at)
    return facts


def _ref(original: OriginalRef) -> v.Ref:
    return v.Ref(original.sha256, original.bytes, original.media_type)


prepare(_TicketFacts)
