"""The rules of the job, and ``decide``, which applies them to one command.

Phases
 1. A job is prepared, worked on, perhaps stopped, and closed. Each command is
    taken only in the phases that ``_PHASES`` names, and none while the job is
    left or after it is closed.
 2. Preparing: a ticket may be opened, once. Each caution that a step of the
    variant names is acknowledged by itself; each tool, consumable and new part
    is ticked by itself. Going on enters the first step.

Moving
 3. Going on from a step needs its hold, readings, counts, photos and finding. At the
    last step it records nothing; then the job can be closed as completed, which
    needs that nothing is owed at any step.
 4. Going back looks again and makes nothing void. Something may be shown again
    there; a photo, hold, reading or count after a finding makes that finding owed anew,
    since it did not cover it. Later steps keep what was shown at them.
 5. A finding needs the hold, readings, counts and photos of its step. ``go-on`` is only
    recorded; ``redo`` and ``stop`` act at once. A redo makes everything shown at
    the named step and after it owed anew; it stays in the record. The redos of a
    checkpoint are counted over the whole job; beyond the limit the stop rule
    that the step list names applies.

Showing
 6. Of several photos for one wanted view, readings, counts or holds, the newest counts.
    A photo counts when the gate passed it or it is kept with a reason. The same
    bytes cannot be shown twice.
 7. A hold is measured on the monotonic clock of one boot. Released early or held
    too long it is recorded as not met and owed anew; when the machine was
    restarted it is lost and owed anew.
 8. A reading is a plain decimal number with at most the decimals asked for, or
    text. Outside its limits it is recorded only when that is confirmed, as
    outside. It does not hold the job up: whether the work can go on is said by
    the finding, or by stopping the repair, which are the person's.
 9. A measurement is advice. Neither a missing nor a bad one holds the job up.
10. A count that differs from the step list's, or has pieces of another kind, needs a
    stated reason; so does the last count of a thing when it does not balance.

Stopping and ending
11. A finding, the redo limit, the technician or a missing piece stops the repair. Afterwards only
    what the stop rule asks can be added (photos of the reason, names), notes and
    their transcripts, corrections and what devices report. With all of it there
    the job can be closed as stopped.
12. The reason is spoken. A written note stands for it only when written while the
    microphone was reported lost.
13. A job can be abandoned with a reason while preparing or working. A stopped one
    cannot: its disposition stands.

Afterwards
14. The newest caution, tick, move, hold, reading, count, finding, kept photo or name can
    be taken back within 5 seconds, on the same boot, as long as nothing that
    hangs on it followed. A stop cannot. What was taken back stays in the record.
15. Any event can be corrected by one that points at it.
16. A real job takes nothing from the practice camera.
"""

from collections.abc import Callable
from typing import Any

from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.job.rules import counting
from evidence_app.job.rules import notes_devices as telling
from evidence_app.job.rules import photos_holds_readings as showing
from evidence_app.job.rules import steps as moving
from evidence_app.job.rules.situation import Situation, Stored
from evidence_app.job.state.job_state import JobState
from evidence_app.record.event import Draft, Instant
from evidence_app.sentence import sentence, sentences_beside
from evidence_app.steplist.model import StepList

_PREPARING, _WORKING, _STOPPED = {"preparing"}, {"working"}, {"stopped"}
_BEFORE_STOP = _PREPARING | _WORKING
_OPEN = _BEFORE_STOP | _STOPPED

_RULES: dict[type[c.Command], tuple[set[str], Callable[[Situation, Any], list[Draft]]]] = {
    c.OpenTicket: (_PREPARING, moving.open_ticket),
    c.AcknowledgeCaution: (_PREPARING, moving.acknowledge),
    c.TickItem: (_PREPARING, moving.tick),
    c.GoOn: (_BEFORE_STOP, moving.go_on),
    c.GoBack: (_WORKING, moving.go_back),
    c.GiveFinding: (_WORKING, moving.give_finding),
    c.StopRepair: (_BEFORE_STOP, moving.stop_repair),
    c.GiveName: (_STOPPED, moving.give_name),
    c.Close: (_OPEN, moving.close),
    c.Abandon: (_BEFORE_STOP, moving.abandon),
    c.Leave: (_OPEN, moving.leave),
    c.TakePhoto: (_OPEN, showing.take_photo),
    c.KeepPhoto: (_WORKING | _STOPPED, showing.keep_photo),
    c.RecordMeasurement: (_WORKING, showing.record_measurement),
    c.StartHold: (_WORKING, showing.start_hold),
    c.EndHold: (_WORKING, showing.end_hold),
    c.EnterReading: (_WORKING, showing.enter_reading),
    c.CountPieces: (_WORKING, counting.count_pieces),
    c.StopForMissing: (_WORKING, counting.stop_for_missing),
    c.StartNote: (_OPEN, telling.start_note),
    c.FinishNote: (_OPEN, telling.finish_note),
    c.WriteNote: (_OPEN, telling.write_note),
    c.AddTranscript: (_OPEN, telling.add_transcript),
    c.CorrectTranscript: (_OPEN, telling.correct_transcript),
    c.Correct: (_OPEN, telling.correct),
    c.TakeBack: (_OPEN, telling.take_back),
    c.ReportDevice: (_OPEN, telling.report_device),
}

_WORDS = sentences_beside(__file__)


def decide(
    state: JobState, step_list: StepList, command: c.Command, now: Instant, stored: Stored | None = None
) -> list[Draft]:
    """The events that a command causes, in order; none when it changes nothing.

    A command that carries bytes is decided twice: without ``stored`` it is only
    checked, so that nothing is stored for a command that is refused; with it
    the events are given. Raises Refused when the rules do not allow it now.
    """
    situation = Situation(state, step_list, now, stored)
    phases, rule = _RULES[type(command)]
    if state.left:
        raise situation.worded(_WORDS["paused"])
    if state.phase not in phases:
        wrong = _WORDS["wrong-phase"][state.phase]
        raise Refused(wrong["what"], where=sentence("job"), remedy=wrong["remedy"])
    return rule(situation, command)


def tidy(state: JobState, step_list: StepList, now: Instant) -> list[Draft]:
    """What must be recorded before anything else: a hold that a restart made void,
    and the redo or stop of a finding when a crash came between the two."""
    if state.phase not in _OPEN:
        return []
    situation = Situation(state, step_list, now)
    return [*showing.lost_hold(situation), *moving.pending_consequence(situation)]
