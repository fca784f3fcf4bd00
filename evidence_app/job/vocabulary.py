"""The events of a job: one frozen type for the body of each kind.

This is format 1 of the journal's content. The rules build bodies from these
types, the conduct check reads bodies back through them, so a field is spelled
in one place. Quantities that a person entered are decimal strings; quantities
that the app measured are numbers. ``sha256`` values are 64 lower-case hex digits.
Unknown fields are refused.
"""

import re
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct, field

from evidence_app import limits
from evidence_app.prepared import prepare

FORMAT = 1

Sha = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}\Z")]
Text = Annotated[str, Meta(min_length=1, max_length=4000)]
Count = Annotated[int, Meta(ge=0)]
Seconds = Annotated[float, Meta(ge=0)]

ItemList = Literal["tools", "consumables", "new-parts"]
EnteredBy = Literal["typed", "spoken", "scanned"]
EnteredFor = Literal["first", "next", "back", "redo", "resumed"]
StoppedBy = Literal["finding", "technician", "redo-limit", "count"]
FindingWord = Literal["clear", "not-clear", "cannot-tell"]
Purpose = Literal["checkpoint", "stop-reason", "note"]
SourceKind = Literal["camera", "stream", "folder", "file", "practice"]
Conformity = Literal["within", "outside", "inconclusive", "refused"]
DeviceKind = Literal["camera", "microphone"]
Outcome = Literal["completed", "stopped", "abandoned"]


class Body(Struct, frozen=True, forbid_unknown_fields=True):
    """Settings shared by every body."""


class EventBody(Body, frozen=True):
    """What makes a body that of an event, and no part of one."""


class Ref(Body, frozen=True):
    """An original in the record's store."""

    sha256: Sha
    bytes: Count
    media_type: str


# --- opening and preparing ---------------------------------------------------


class StepListNamed(Body, frozen=True):
    id: Text
    version: Text
    sha256: Sha
    bytes: Count


class DeviceNamed(Body, frozen=True):
    family: Text
    model: Text
    serial: Text


class JobOpened(EventBody, frozen=True):
    """``clock`` says whether times come from the machine or from a practice clock."""

    format: int
    app: Text
    job: Text
    step_list: StepListNamed
    variant: str | None
    device: DeviceNamed
    claim: Text
    technician: Text
    practice: bool
    clock: Literal["system", "practice"]
    platform: str


class TicketOpened(EventBody, frozen=True):
    ticket: Ref
    signature: Ref
    nonce: Text
    issued_at: Text
    depot: Text


class CautionAcknowledged(EventBody, frozen=True, omit_defaults=True):
    """``said``: what was heard, where it was by voice."""

    caution: Text
    said: Text | None = None


class ItemTicked(EventBody, frozen=True, omit_defaults=True):
    list: ItemList
    item: Text
    said: Text | None = None


# --- moving --------------------------------------------------------------------


class StepEntered(EventBody, frozen=True):
    """The event's own ``step`` is the step entered; ``from`` the step left."""

    reason: EnteredFor
    from_: str | None = field(name="from")


class LeadsTo(Body, frozen=True):
    """What the step list's rule makes of a finding."""

    action: Literal["go-on", "redo", "stop"]
    step: str | None
    rule: str | None


class FindingGiven(EventBody, frozen=True):
    finding: FindingWord
    leads_to: LeadsTo


class RepairStopped(EventBody, frozen=True):
    rule: Text
    by: StoppedBy
    reason: Text
    disposition: Text
    prohibitions: tuple[Text, ...]


class NameGiven(EventBody, frozen=True):
    role: Text
    name: Text


# --- what was shown ---------------------------------------------------------------


class PhotoTaken(EventBody, frozen=True):
    """``width`` and ``height`` are pixels as the picture is shown, Exif rotation applied."""

    photo: Ref
    wanted: str | None
    purpose: Purpose
    width: Annotated[int, Meta(gt=0)]
    height: Annotated[int, Meta(gt=0)]
    source: dict[str, Any]
    retake_of: Sha | None


class JudgedCheck(Body, frozen=True):
    name: Text
    value: float | str | None
    limit: float | str | None
    unit: str | None
    holds: bool
    sentence: str


class PhotoJudged(EventBody, frozen=True):
    photo: Sha
    passes: bool
    checks: tuple[JudgedCheck, ...]


class PhotoKept(EventBody, frozen=True):
    photo: Sha
    reason: Text


class ScaleCardNamed(EventBody, frozen=True):
    """The confirmed card that measurements from here on rely on: ``scale`` is its true length
    over the printed one, by a rule held against its printed bar."""

    serial: Text
    scale: Annotated[float, Meta(gt=0)]
    scale_u: Annotated[float, Meta(ge=0)]
    thickness_mm: Annotated[float, Meta(gt=0)]
    thickness_u_mm: Annotated[float, Meta(ge=0)]


class Measured(EventBody, frozen=True):
    photo: Sha
    wanted: Text
    result: dict[str, Any]
    markup: Ref | None


class HoldStarted(EventBody, frozen=True):
    at_least_s: Annotated[float, Meta(gt=0)]


class HoldEnded(EventBody, frozen=True):
    """``reason`` is given when the hold was not met: released early, or held too long."""

    held_s: Seconds
    met: bool
    reason: Literal["early", "too-long"] | None = None


class HoldLost(EventBody, frozen=True):
    reason: Text


class ReadingEntered(EventBody, frozen=True):
    reading: Text
    value: Text
    unit: str | None
    within: bool | None
    entered_by: EnteredBy


class PiecesCounted(EventBody, frozen=True):
    """Pieces of a counted thing that came out of the unit at this step, or went in. ``other`` says
    which of them were of another kind than the step list's; ``photo`` is one that shows them."""

    thing: Text
    goes: Literal["out", "in"]
    count: Annotated[int, Meta(ge=0, le=limits.COUNTED_PIECES)]
    other: Text | None
    reason: Text | None
    photo: Sha | None


# --- notes, devices, corrections ------------------------------------------------------


class NoteStarted(EventBody, frozen=True):
    note: Text
    photo: Sha | None


class NoteRecorded(EventBody, frozen=True):
    note: Text
    audio: Ref
    seconds: Seconds
    photo: Sha | None
    cut_short: bool
    dropouts: Count
    rate: Annotated[int, Meta(gt=0)]


class NoteLost(EventBody, frozen=True):
    """A note was begun and no sound of it exists."""

    note: Text
    reason: Text


class NoteWritten(EventBody, frozen=True):
    text: Text
    photo: Sha | None


class SpeechEngine(Body, frozen=True):
    name: Text
    version: Text


class TranscriptMade(EventBody, frozen=True):
    """``text`` may be empty: the engine heard nothing that it could write."""

    note: Text
    text: Annotated[str, Meta(max_length=200_000)]
    engine: SpeechEngine


class TranscriptCorrected(EventBody, frozen=True):
    note: Text
    text: Annotated[str, Meta(max_length=200_000)]


class Corrected(EventBody, frozen=True):
    of: Annotated[int, Meta(ge=1)]
    text: Text


class TakenBack(EventBody, frozen=True):
    of: Annotated[int, Meta(ge=1)]


class SourceLost(EventBody, frozen=True):
    device: DeviceKind
    name: Text
    message: str


class SourceReturned(EventBody, frozen=True):
    device: DeviceKind
    name: Text
    away_s: Seconds


# --- clocks, interruptions, the end ------------------------------------------------------


class ClockStepped(EventBody, frozen=True):
    by_s: float
    earlier: bool


class MachineRestarted(EventBody, frozen=True):
    previous_boot: str


class RecordRecovered(EventBody, frozen=True):
    set_aside: tuple[str, ...]
    finished: tuple[str, ...]


class JobLeft(EventBody, frozen=True):
    pass


class JobResumed(EventBody, frozen=True):
    pass


class JobClosed(EventBody, frozen=True):
    outcome: Outcome
    reason: str | None


_OTHERWISE = {SourceLost: "device-lost", SourceReturned: "device-returned"}

BODIES: dict[str, type[Body]] = {
    _OTHERWISE.get(body) or re.sub("(?!^)([A-Z])", r"-\1", body.__name__).lower(): body
    for body in EventBody.__subclasses__()
}
"""The body of each kind of event: a kind is the name of its body, in small letters."""

KINDS: dict[type[Body], str] = {body: kind for kind, body in BODIES.items()}


def to_body(body: Body) -> dict[str, Any]:
    """The body as the plain JSON object that the journal holds."""
    return msgspec.to_builtins(body)


def read_body(kind: str, body: Any) -> Body:
    """The typed body of an event of ``kind``.

    Raises KeyError for an unknown kind and msgspec.ValidationError when the
    body does not fit the kind.
    """
    return msgspec.convert(body, BODIES[kind])


prepare(*BODIES.values())
