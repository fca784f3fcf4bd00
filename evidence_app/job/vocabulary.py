"""The events of a job: one frozen type for the body of each kind.

This is format 1 of the journal's content. The rules build bodies from these
types, the conduct check reads bodies back through them, so a field is spelled
in one place. Quantities that a person entered are decimal strings; quantities
that the app measured are numbers. ``sha256`` values are 64 lower-case hex digits.
Unknown fields are refused.
"""

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct, field

from evidence_app.prepared import prepare

FORMAT = 1

Sha = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}\Z")]
Text = Annotated[str, Meta(min_length=1, max_length=4000)]
Count = Annotated[int, Meta(ge=0)]
Seconds = Annotated[float, Meta(ge=0)]

ItemList = Literal["tools", "consumables", "new-parts"]
EnteredBy = Literal["typed", "spoken", "scanned"]
EnteredFor = Literal["first", "next", "back", "redo", "resumed"]
StoppedBy = Literal["finding", "technician", "redo-limit"]
FindingWord = Literal["clear", "not-clear", "cannot-tell"]
Purpose = Literal["checkpoint", "stop-reason", "note"]
SourceKind = Literal["camera", "stream", "folder", "file", "practice"]
Conformity = Literal["within", "outside", "inconclusive", "refused"]
DeviceKind = Literal["camera", "microphone"]
Outcome = Literal["completed", "stopped", "abandoned"]


class Body(Struct, frozen=True, forbid_unknown_fields=True):
    """Settings shared by every body."""


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


class JobOpened(Body, frozen=True):
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


class TicketOpened(Body, frozen=True):
    ticket: Ref
    signature: Ref
    nonce: Text
    issued_at: Text
    depot: Text


class CautionAcknowledged(Body, frozen=True):
    caution: Text


class ItemTicked(Body, frozen=True):
    list: ItemList
    item: Text


# --- moving --------------------------------------------------------------------


class StepEntered(Body, frozen=True):
    """The event's own ``step`` is the step entered; ``from`` the step left."""

    reason: EnteredFor
    from_: str | None = field(name="from")


class LeadsTo(Body, frozen=True):
    """What the step list's rule makes of a finding."""

    action: Literal["go-on", "redo", "stop"]
    step: str | None
    rule: str | None


class FindingGiven(Body, frozen=True):
    finding: FindingWord
    leads_to: LeadsTo


class RepairStopped(Body, frozen=True):
    rule: Text
    by: StoppedBy
    reason: Text
    disposition: Text
    prohibitions: tuple[Text, ...]


class NameGiven(Body, frozen=True):
    role: Text
    name: Text


# --- what was shown ---------------------------------------------------------------


class PhotoTaken(Body, frozen=True):
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


class PhotoJudged(Body, frozen=True):
    photo: Sha
    passes: bool
    checks: tuple[JudgedCheck, ...]


class PhotoKept(Body, frozen=True):
    photo: Sha
    reason: Text


class ScaleCardNamed(Body, frozen=True):
    """The confirmed card that measurements from here on rely on: ``scale`` is its true length
    over the printed one, by a rule held against its printed bar."""

    serial: Text
    scale: Annotated[float, Meta(gt=0)]
    scale_u: Annotated[float, Meta(ge=0)]
    thickness_mm: Annotated[float, Meta(gt=0)]
    thickness_u_mm: Annotated[float, Meta(ge=0)]


class Measured(Body, frozen=True):
    photo: Sha
    wanted: Text
    result: dict[str, Any]
    markup: Ref | None


class HoldStarted(Body, frozen=True):
    at_least_s: Annotated[float, Meta(gt=0)]


class HoldEnded(Body, frozen=True):
    """``reason`` is given when the hold was not met: released early, or held too long."""

    held_s: Seconds
    met: bool
    reason: Literal["early", "too-long"] | None = None


class HoldLost(Body, frozen=True):
    reason: Text


class ReadingEntered(Body, frozen=True):
    reading: Text
    value: Text
    unit: str | None
    within: bool | None
    entered_by: EnteredBy


# --- notes, devices, corrections ------------------------------------------------------


class NoteStarted(Body, frozen=True):
    note: Text
    photo: Sha | None


class NoteRecorded(Body, frozen=True):
    note: Text
    audio: Ref
    seconds: Seconds
    photo: Sha | None
    cut_short: bool
    dropouts: Count
    rate: Annotated[int, Meta(gt=0)]


class NoteLost(Body, frozen=True):
    """A note was begun and no sound of it exists."""

    note: Text
    reason: Text


class NoteWritten(Body, frozen=True):
    text: Text
    photo: Sha | None


class SpeechEngine(Body, frozen=True):
    name: Text
    version: Text


class TranscriptMade(Body, frozen=True):
    """``text`` may be empty: the engine heard nothing that it could write."""

    note: Text
    text: Annotated[str, Meta(max_length=200_000)]
    engine: SpeechEngine


class TranscriptCorrected(Body, frozen=True):
    note: Text
    text: Annotated[str, Meta(max_length=200_000)]


class Corrected(Body, frozen=True):
    of: Annotated[int, Meta(ge=1)]
    text: Text


class TakenBack(Body, frozen=True):
    of: Annotated[int, Meta(ge=1)]


class SourceLost(Body, frozen=True):
    device: DeviceKind
    name: Text
    message: str


class SourceReturned(Body, frozen=True):
    device: DeviceKind
    name: Text
    away_s: Seconds


# --- clocks, interruptions, the end ------------------------------------------------------


class ClockStepped(Body, frozen=True):
    by_s: float
    earlier: bool


class MachineRestarted(Body, frozen=True):
    previous_boot: str


class RecordRecovered(Body, frozen=True):
    set_aside: tuple[str, ...]
    finished: tuple[str, ...]


class JobLeft(Body, frozen=True):
    pass


class JobResumed(Body, frozen=True):
    pass


class JobClosed(Body, frozen=True):
    outcome: Outcome
    reason: str | None


BODIES: dict[str, type[Body]] = {
    "job-opened": JobOpened,
    "ticket-opened": TicketOpened,
    "caution-acknowledged": CautionAcknowledged,
    "item-ticked": ItemTicked,
    "step-entered": StepEntered,
    "finding-given": FindingGiven,
    "repair-stopped": RepairStopped,
    "name-given": NameGiven,
    "photo-taken": PhotoTaken,
    "photo-judged": PhotoJudged,
    "photo-kept": PhotoKept,
    "scale-card-named": ScaleCardNamed,
    "measured": Measured,
    "hold-started": HoldStarted,
    "hold-ended": HoldEnded,
    "hold-lost": HoldLost,
    "reading-entered": ReadingEntered,
    "note-started": NoteStarted,
    "note-recorded": NoteRecorded,
    "note-lost": NoteLost,
    "note-written": NoteWritten,
    "transcript-made": TranscriptMade,
    "transcript-corrected": TranscriptCorrected,
    "corrected": Corrected,
    "taken-back": TakenBack,
    "device-lost": SourceLost,
    "device-returned": SourceReturned,
    "clock-stepped": ClockStepped,
    "machine-restarted": MachineRestarted,
    "record-recovered": RecordRecovered,
    "job-left": JobLeft,
    "job-resumed": JobResumed,
    "job-closed": JobClosed,
}

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
