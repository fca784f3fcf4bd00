"""The commands: everything that a person, a screen or a script can ask of a job.

A command says what is wanted, never what follows; the rules answer with the
events that it causes or refuse it. Commands are plain values and can be
compared, logged and replayed.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from msgspec import Struct

from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.job.vocabulary import EnteredBy, FindingWord, ItemList, Purpose


class Command(Struct, frozen=True):
    """Settings shared by every command."""


# --- preparing ------------------------------------------------------------------


class OpenTicket(Command, frozen=True):
    """Adds the depot's signed ticket: its JSON bytes and its detached signature."""

    ticket: bytes
    signature: bytes


class AcknowledgeCaution(Command, frozen=True):
    """One caution was read and understood. ``said``: the words said back, where it was by voice."""

    caution: str
    said: str | None = None


class TickItem(Command, frozen=True):
    """One tool, consumable or new part is at hand."""

    list: ItemList
    item: str
    said: str | None = None


# --- moving ---------------------------------------------------------------------


class GoOn(Command, frozen=True):
    """To the next step, or from preparing to the first. At the last step, with
    nothing owed, it records nothing: the job is then ready to be closed."""


class GoBack(Command, frozen=True):
    """To the step before, to look at it again. Makes nothing void."""


class GiveFinding(Command, frozen=True):
    """What the person says after looking at the checkpoint of this step."""

    finding: FindingWord


class StopRepair(Command, frozen=True):
    """The technician stops the repair, for the reason stated."""

    reason: str


class StopForMissing(Command, frozen=True):
    """The repair is stopped under the stop rule of a counted thing whose count differs."""

    thing: str


class GiveName(Command, frozen=True):
    """A name that the stop rule asks for, such as the supervisor's."""

    role: str
    name: str


class Close(Command, frozen=True):
    """Ends the job as completed or stopped; nothing can be added afterwards."""


class Abandon(Command, frozen=True):
    """Ends the job without completing it, for the reason stated."""

    reason: str


class Leave(Command, frozen=True):
    """The job is put down; it is taken up again at the same step."""


# --- showing --------------------------------------------------------------------


class TakePhoto(Command, frozen=True):
    """A photo as the camera gave it.

    ``wanted`` is the id of the photo asked for at this step or by the stop rule,
    None for a photo added as a note. ``source`` says where the bytes came from:
    at least ``kind`` (camera, stream, folder, file, practice) and ``name``.
    """

    data: bytes
    wanted: str | None
    purpose: Purpose
    source: dict[str, Any]


class KeepPhoto(Command, frozen=True):
    """A photo that the gate did not pass is kept all the same, for a reason."""

    photo: str
    reason: str


class RecordMeasurement(Command, frozen=True):
    """The result of a measurement run on a photo; ``markup`` is a PNG drawing of it.

    ``result`` has at least kind, unit, value, U, conformity, method, sentence.
    """

    photo: str
    wanted: str
    result: dict[str, Any]
    markup: bytes | None = None


class StartHold(Command, frozen=True):
    """The press or load of this step is on."""


class EndHold(Command, frozen=True):
    """The press or load is off."""


class EnterReading(Command, frozen=True):
    """A value read off by a person: a decimal number with a full stop, or text.

    ``confirm_outside`` says that the person was told that the number lies
    outside its limits and wants it recorded so.
    """

    reading: str
    value: str
    entered_by: EnteredBy = "typed"
    confirm_outside: bool = False


class CountPieces(Command, frozen=True):
    """Pieces of a counted thing that came out at this step or went in, as the step list asks.

    ``reason`` is owed where the count differs or pieces are of another kind; ``other`` says which.
    """

    thing: str
    count: int
    reason: str | None = None
    other: str | None = None
    photo: str | None = None


# --- notes and transcripts ---------------------------------------------------------


class StartNote(Command, frozen=True):
    """A spoken note begins, bound to the current step and, if given, to a photo."""

    photo: str | None = None


class FinishNote(Command, frozen=True):
    """A spoken note ended. ``audio`` is FLAC, 16 kHz mono, as bytes or a file.

    With None, or no sound in it, the note is recorded as lost.
    """

    note: str
    audio: bytes | Path | None
    seconds: float
    dropouts: int = 0
    cut_short: bool = False


class WriteNote(Command, frozen=True):
    """A written note, bound to the current step and, if given, to a photo."""

    text: str
    photo: str | None = None


class AddTranscript(Command, frozen=True):
    """What an engine made of a spoken note; advice beside the sound."""

    note: str
    text: str
    engine: str
    version: str


class CorrectTranscript(Command, frozen=True):
    """The technician's correction of a transcript."""

    note: str
    text: str


# --- afterwards ---------------------------------------------------------------------


class Correct(Command, frozen=True):
    """States that event ``of`` is wrong or incomplete; it stays as it is."""

    of: int
    text: str


class TakeBack(Command, frozen=True):
    """Takes back event ``of``, at most five seconds after it."""

    of: int


class ReportDevice(Command, frozen=True):
    """What the watch over a device told: a camera or microphone was lost, or is back."""

    news: DeviceLost | DeviceReturned
