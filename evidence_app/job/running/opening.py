"""Beginning the record of a job, and finding what an earlier run left of one."""

import hashlib
import platform
import uuid
from pathlib import Path
from typing import Literal

import evidence_app
from evidence_app.errors import RecordError, Refused
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import line
from evidence_app.job.state.fold import fold
from evidence_app.job.state.job_state import JobState
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.record.record import Record, interrupted_opening
from evidence_app.sentence import sentence, sentences_beside
from evidence_app.steplist.load import loads
from evidence_app.steplist.model import StepList
from evidence_app.steplist.variants import require_variant

_WORDS = sentences_beside(__file__)


def opening(
    step_list_bytes: bytes,
    variant: str | None,
    serial: str,
    claim: str,
    technician: str,
    practice: bool,
    clock: Clock,
) -> tuple[StepList, v.JobOpened]:
    """The step list and the body of the first event; nothing is written.

    Raises StepListError, EvidenceError (variant) and Refused.
    """
    step_list = loads(step_list_bytes, "step list")
    require_variant(step_list, variant)
    refuse_practice_clock(clock, practice)
    body = v.JobOpened(
        format=v.FORMAT,
        app=evidence_app.__version__,
        job=str(uuid.uuid4()),
        step_list=v.StepListNamed(
            step_list.id,
            step_list.version,
            hashlib.sha256(step_list_bytes).hexdigest(),
            len(step_list_bytes),
        ),
        variant=variant,
        device=v.DeviceNamed(
            step_list.device.family, step_list.device.model, line(serial, sentence("the serial number"))
        ),
        claim=line(claim, sentence("the claim number")),
        technician=line(technician, sentence("the technician's name")),
        practice=practice,
        clock=_clock_name(clock),
        platform=platform.platform(),
    )
    return step_list, body


def _clock_name(clock: Clock) -> Literal["system", "practice"]:
    """Any clock but the machine's own can be set at will and is a practice clock."""
    return "system" if isinstance(clock, SystemClock) else "practice"


def refuse_practice_clock(clock: Clock, practice: bool) -> None:
    if _clock_name(clock) == "practice" and not practice:
        raise Refused.worded(_WORDS["practice-clock"], sentence("job"))


def standing(record: Record) -> tuple[StepList, JobState]:
    """The step list of a job and where the job stands.

    Raises RecordError when nothing was recorded yet, when the journal lost it, or when the
    step list in the store is not the one that the job was opened with; StepListError.
    """
    state = fold(record.events)
    if state.opened is None:
        record.refuse_damage()  # when opened for reading only: its first events are gone
        raise interrupted_opening(record.folder)
    named = state.opened.step_list
    data = record.path_of(named.sha256).read_bytes()
    if hashlib.sha256(data).hexdigest() != named.sha256:
        raise RecordError.worded(
            _WORDS["altered"], str(record.path_of(named.sha256)), id=named.id, version=named.version
        )
    return loads(data, f"step list {named.id}"), state


def peek(folder: Path) -> tuple[StepList, JobState]:
    """Where a job stands, read without changing anything and without taking it up.

    Raises RecordError, JobInUse while another run of the app has it open,
    StepListError.
    """
    with Record.open(folder, SystemClock(), read_only=True) as record:
        return standing(record)
