"""The types of a job's summary, in the order a reader needs them.

A summary holds facts that follow from the step list and the journal, and
nothing else: no file is read, no photo looked at, nothing called authentic.
Times and lengths of time are as in ``model_step``.
"""

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.model_step import (
    Fact,
    FindingRecord,
    HoldRecord,
    Moment,
    NameRecord,
    NoteRecord,
    PhotoRecord,
    ReadingRecord,
)
from evidence_app.sentence import Sentence

FORMAT = "evidence-record/2"


class TicketRecord(v.TicketOpened, frozen=True, kw_only=True):
    """The depot's ticket opened at the start: the job is not older than it."""

    sequence: int
    wall: str


class Identity(Fact, frozen=True, kw_only=True):
    """What was worked on, by whom, by which step list, with which app; None where the journal
    has no opening that says it."""

    job: str | None = None
    claim: str | None = None
    technician: str | None = None
    serial: str | None = None
    family: str | None = None
    model: str | None = None
    variant: str | None = None
    step_list_id: str | None = None
    step_list_version: str | None = None
    step_list_sha256: str | None = None
    step_list_title: str
    defers_to: str
    practice: bool | None = None
    clock: str | None = None
    app: str | None = None
    platform: str | None = None
    ticket: TicketRecord | None


class Outcome(Fact, frozen=True):
    """How the job ended. ``outcome`` is what job-closed says, or ``open``.

    ``elapsed_s`` is by the wall clock, opening to closing. ``worked_s`` adds the
    monotonic time between neighbouring events, without the time between
    leaving and resuming and without the time across a restart.
    """

    outcome: str
    reason: str | None
    sentence: Sentence
    opened_at: str | None
    closed_at: str | None
    elapsed_s: float | None
    worked_s: float


class CautionRecord(Fact, frozen=True):
    """A caution of the step list and when it was acknowledged (None: never)."""

    id: str
    signal: str
    hazard: str
    avoid: str
    steps: tuple[str, ...]
    acknowledged: tuple[Moment, ...]


class ItemRecord(Fact, frozen=True):
    """A tool, consumable or new part and when it was ticked (None: never)."""

    list: str
    id: str
    name: str
    ticked: tuple[Moment, ...]


class StepVisit(Moment, frozen=True):
    """One entering of a step and why (first, next, back, redo, resumed)."""

    reason: str | None
    from_step: str | None


class OwedThing(Fact, frozen=True):
    kind: str
    id: str
    name: str | Sentence


class Requirement(OwedThing, frozen=True):
    """One thing that was owed and how the record answers for it.

    ``kind``: caution, tool, consumable, new-part, hold, reading, photo, finding,
    count, spoken-reason or name. ``state``:

    - ``shown``: there is an event that answers for it (``by``);
    - ``kept``: a photo that did not pass and was kept with a stated reason;
    - ``missing``: owed, and nothing in the record answers for it;
    - ``unfinished``: owed at the step where the job was stopped, abandoned or
      still stands, and not asked for any more (or not yet);
    - ``not-reached``: its step was never entered in a job that did not complete.
    """

    state: str
    by: int | None


class StepRecord(Fact, frozen=True, kw_only=True):
    """One step: what was owed and what was shown.

    ``number`` is its place among the steps of this variant (None: the journal
    names a step which is not one of them). ``redo_count`` counts how often the
    repair was sent back to exactly this step.
    """

    id: str
    number: int | None
    title: str
    instruction: str | None = None
    question: str | None
    visits: tuple[StepVisit, ...]
    redo_count: int
    owed: tuple[Requirement, ...]
    hold: HoldRecord | None
    readings: tuple[ReadingRecord, ...]
    photos: tuple[PhotoRecord, ...]
    findings: tuple[FindingRecord, ...]
    notes: tuple[NoteRecord, ...]


class StopRecord(v.RepairStopped, frozen=True, kw_only=True):
    """The stop of a repair and what was shown after it.

    ``finding_to_stop_s`` is the time from the finding that led to it,
    ``entered_to_stop_s`` from entering the step, ``stop_to_close_s`` to the
    closing. ``worked_after`` are the events after the stop that are work on
    the device (a step entered, a hold begun, a reading, a finding): what the
    record can show about whether the prohibitions were kept.
    """

    sequence: int
    wall: str
    step: str | None
    step_title: str | None
    finding: str | None
    finding_sequence: int | None
    finding_to_stop_s: float | None
    entered_to_stop_s: float | None
    stop_to_close_s: float | None
    owed: tuple[Requirement, ...]
    photos: tuple[PhotoRecord, ...]
    notes: tuple[NoteRecord, ...]
    names: tuple[NameRecord, ...]
    worked_after: tuple[Moment, ...]


class LedgerRecord(Fact, frozen=True):
    """One counted thing over the whole job: pieces that came out of the unit and went in, as listed
    for its variant and as counted. ``left_in`` are those in the unit beyond what is listed for the
    steps counted; below 0 that many are lacking. ``uncounted`` are the steps that never counted
    it. ``explained`` are the events that give a reason:
    their count differs, or had pieces of another kind."""

    id: str
    name: str
    listed_out: int
    listed_in: int
    out: int
    went_in: int
    left_in: int
    uncounted: tuple[str, ...]
    explained: tuple[int, ...]
    others: tuple[str, ...]
    reasons: tuple[str, ...]
    photos: tuple[str, ...]


class ScaleCardRecord(v.ScaleCardNamed, frozen=True, kw_only=True):
    """A confirmed scale card that measurements relied on from this event on: ``scale_u`` is the
    standard uncertainty of ``scale``."""

    sequence: int
    wall: str


class ClockNote(Moment, frozen=True, kw_only=True):
    """A wall clock that was stepped or ran backwards, or a machine restart.

    ``kind``: stepped, earlier or restarted; ``by_s`` the step in seconds.
    ``recorded`` is False where the events' own times show it and the journal
    has no event for it.
    """

    kind: str
    by_s: float | None = None
    recorded: bool
    sentence: Sentence


class DeviceLoss(v.SourceLost, frozen=True, kw_only=True):
    """A camera or microphone that was lost, and when it came back."""

    sequence: int
    wall: str
    returned: Moment | None
    away_s: float | None


class RecoveryRecord(Moment, frozen=True):
    """What was set aside or finished when the job was opened again."""

    set_aside: tuple[str, ...]
    finished: tuple[str, ...]


class Absence(Fact, frozen=True):
    """The job was left and taken up again; ``away_s`` by the wall clock.

    ``left`` is None where the job was taken up without having been left, as
    after a power cut; ``away_s`` then counts from the event before.
    """

    left: Moment | None
    resumed: Moment | None
    away_s: float | None


class Correction(Moment, frozen=True):
    """A later word on an earlier event; ``text`` None: it was taken back."""

    of: int | None
    of_kind: str | None
    text: str | None = None


class Missing(OwedThing, frozen=True):
    """Something owed that nothing in the record answers for; ``step`` None
    after a stop."""

    step: str | None
    step_title: str | None


class EventLine(Moment, frozen=True):
    kind: str
    step: str | None
    sentence: Sentence


class Unplaced(EventLine, frozen=True):
    """An event of an unknown kind, or one that fits nowhere, and why."""


class TimelineLine(EventLine, frozen=True):
    """One event in plain words. ``since_opening_s`` is monotonic, and None
    after a restart of the machine."""

    since_opening_s: float | None
    actor: str
    taken_back: bool


class Totals(Fact, frozen=True):
    events: int
    steps: int
    steps_entered: int
    redos: int
    cautions_acknowledged: int
    items_ticked: int
    photos: int
    photo_bytes: int
    photos_superseded: int
    photos_kept: int
    measurements: int
    holds_met: int
    readings: int
    readings_outside: int
    findings: int
    spoken_notes: int
    spoken_seconds: float
    written_notes: int
    clock_notes: int
    device_losses: int
    missing: int


class Summary(Fact, frozen=True):
    """A whole job. ``general_photos`` and ``general_notes`` belong to no step; ``ledger`` is written
    only where the step list counts something."""

    format: str
    identity: Identity
    outcome: Outcome
    stop: StopRecord | None
    owed_but_missing: tuple[Missing, ...]
    before_work: tuple[Requirement, ...]
    cautions: tuple[CautionRecord, ...]
    items: tuple[ItemRecord, ...]
    steps: tuple[StepRecord, ...]
    general_photos: tuple[PhotoRecord, ...]
    general_notes: tuple[NoteRecord, ...]
    names: tuple[NameRecord, ...]
    ledger: tuple[LedgerRecord, ...]
    scale_cards: tuple[ScaleCardRecord, ...]
    clock_notes: tuple[ClockNote, ...]
    device_losses: tuple[DeviceLoss, ...]
    recoveries: tuple[RecoveryRecord, ...]
    absences: tuple[Absence, ...]
    corrections: tuple[Correction, ...]
    unplaced: tuple[Unplaced, ...]
    timeline: tuple[TimelineLine, ...]
    totals: Totals
