"""The rules on what is shown at a step: photos, measurements, holds, readings."""

from typing import Any, Literal, get_args

import msgspec

from evidence_app.job import commands as c
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import SERIAL, line, number, plain, reason, refuse, within
from evidence_app.job.rules.owed import and_limits
from evidence_app.job.rules.route import asked_of, wanted_here
from evidence_app.job.rules.situation import APP, Situation, draft
from evidence_app.job.state.job_state import JobState, microseconds
from evidence_app.record.event import Draft, is_number, refuse_unwritable
from evidence_app.sentence import sentence, sentences_beside

_WHY = sentences_beside(__file__)

# --- photos ----------------------------------------------------------------------


def take_photo(at: Situation, command: c.TakePhoto) -> list[Draft]:
    _check_source(at, command.source)
    if command.purpose == "note":
        if command.wanted is not None:
            raise at.worded(_WHY["answers-to-none"])
        if at.state.phase == "stopped":
            raise at.worded(_WHY["stopped"])
    elif command.purpose != _due(at) or wanted_here(at.step_list, at.state, command.wanted) is None:
        raise at.worded(_WHY["not-wanted"], name=command.wanted)
    if at.stored is None:
        return []
    ref = at.stored.refs["photo"]
    twin = at.state.photo(ref.sha256)
    if twin is not None:
        raise at.worded(_WHY["shown-before"], number=twin.sequence)
    earlier = at.state.photo_here(command.wanted) if command.wanted else None
    body = v.PhotoTaken(
        photo=ref,
        wanted=command.wanted,
        purpose=command.purpose,
        source=command.source,
        retake_of=earlier.sha256 if earlier else None,
        **at.stored.facts,
    )
    return [at.draft(body)]


def _due(at: Situation) -> v.Purpose:
    """What a photo that is asked for is for, where the job stands."""
    return "stop-reason" if at.state.phase == "stopped" else "checkpoint"


def judged(state: JobState, sha256: str, passes: bool, checks: tuple[v.JudgedCheck, ...]) -> list[Draft]:
    """The gate's judgement of a photo; nothing when it is judged or the job is closed."""
    photo = state.photo(sha256)
    if photo is None or photo.passes is not None or state.phase == "closed":
        return []
    return [draft(v.PhotoJudged(sha256, passes, checks), photo.step, APP)]


def keep_photo(at: Situation, command: c.KeepPhoto) -> list[Draft]:
    photo = at.photo(command.photo)
    if photo.purpose != _due(at) or at.state.photo_here(photo.wanted or "") != photo:
        raise at.worded(_WHY["not-newest"])
    if photo.passes is None:
        raise at.worded(_WHY["being-checked"])
    if photo.settled:
        raise at.worded(_WHY["counts-already"])
    return [
        at.draft(v.PhotoKept(photo.sha256, reason(command.reason, sentence("the reason for keeping it"))))
    ]


def record_measurement(at: Situation, command: c.RecordMeasurement) -> list[Draft]:
    photo = at.photo(command.photo)
    asked = asked_of(at.step_list, at.state, photo)
    if photo.wanted != command.wanted or asked is None or asked.measurement is None:
        raise at.worded(_WHY["no-measurement"])
    if not photo.settled:
        raise at.worded(_WHY["not-settled"])
    _check_result(at, command.result, asked.measurement.kind.value)
    if command.markup is not None and not command.markup.startswith(b"\x89PNG\r\n\x1a\n"):
        raise at.worded(_WHY["no-drawing"])
    if at.stored is None:
        return []
    body = v.Measured(photo.sha256, command.wanted, command.result, at.stored.refs.get("markup"))
    try:
        card = named_card(command.result)
    except msgspec.ValidationError as problem:
        raise at.worded(_WHY["incomplete-card"], problem=problem) from problem
    if card is None or card == at.state.card:
        return [draft(body, photo.step, APP)]
    return [draft(card, photo.step, APP), draft(body, photo.step, APP)]


def named_card(result: dict[str, Any]) -> v.ScaleCardNamed | None:
    """The confirmed scale card that a measurement's result relies on."""
    card = result.get("card")
    if not isinstance(card, dict) or not card.get("confirmed"):
        return None
    fields = {name: card.get(name) for name in v.ScaleCardNamed.__struct_fields__}
    return msgspec.convert(fields, v.ScaleCardNamed)


def _check_source(at: Situation, source: dict[str, Any]) -> None:
    refuse_unwritable(source, "source", "photo")
    if source.get("kind") not in get_args(v.SourceKind) or not isinstance(source.get("name"), str):
        raise at.worded(_WHY["no-source"])
    if source["kind"] == "practice" and not at.state.practice:
        raise at.worded(_WHY["practice-camera"])


def _check_result(at: Situation, result: dict[str, Any], kind: str) -> None:
    refuse_unwritable(result, "result", "measurement")
    texts = all(isinstance(result.get(key), str) for key in ("unit", "method", "sentence"))
    numbers = all(
        key in result and (result[key] is None or is_number(result[key])) for key in ("value", "U")
    )
    known = result.get("conformity") in get_args(v.Conformity)
    if not (texts and numbers and known and result.get("kind") == kind):
        raise at.worded(_WHY["other-result"], kind=kind)


# --- holds -------------------------------------------------------------------------


def start_hold(at: Situation, command: c.StartHold) -> list[Draft]:
    if at.step is None or at.step.hold is None:
        raise at.worded(_WHY["no-hold"])
    if at.state.hold is not None:
        raise at.worded(_WHY["hold-running"])
    return [at.draft(v.HoldStarted(at.step.hold.at_least_s))]


def end_hold(at: Situation, command: c.EndHold) -> list[Draft]:
    if at.step is None or at.step.hold is None or at.state.hold is None:
        raise at.worded(_WHY["hold-not-running"])
    held_us = at.state.held_us(at.now)
    if held_us is None:
        return lost_hold(at)
    why: Literal["early", "too-long"] | None = None
    if held_us < microseconds(at.step.hold.at_least_s):
        why = "early"
    elif at.step.hold.at_most_s is not None and held_us > microseconds(at.step.hold.at_most_s):
        why = "too-long"
    return [at.draft(v.HoldEnded(held_us / 1e6, why is None, why))]


def lost_hold(at: Situation) -> list[Draft]:
    """States that a running hold cannot be shown, when the machine was restarted."""
    running = at.state.hold
    if running is None or at.state.held_us(at.now) is not None:
        return []
    why = "the machine was restarted while the hold was running; its length cannot be shown"
    return [draft(v.HoldLost(why), running.step, APP)]


# --- readings -----------------------------------------------------------------------


def enter_reading(at: Situation, command: c.EnterReading) -> list[Draft]:
    readings = at.step.readings if at.step else ()
    reading = next((each for each in readings if each.id == command.reading), None)
    if reading is None:
        raise at.worded(_WHY["no-reading"], reading=command.reading)
    if command.entered_by == "scanned" and not reading.scan:
        raise at.worded(_WHY["no-scan"], name=reading.name)
    if reading.text:
        value, fits = line(command.value, reading.name), None
        serial = at.state.opened.device.serial if at.state.opened else value
        if reading.id == SERIAL and plain(value) != plain(serial) and not command.confirm_outside:
            refuse(
                "{value} is not the serial number of this job, which is {serial}",
                "look at the unit again and enter what stands there; where it is another unit, "
                "confirm the value as outside and say why in a note",
                where=reading.name, value=value, serial=serial,
            )  # fmt: skip
    else:
        value = number(command.value, reading)
        fits = within(value, reading)
    if fits is False and not command.confirm_outside:
        refuse(
            "{value} {unit} is outside its limits{limits}",
            "enter it again, or confirm that it is to be recorded as outside",
            where=reading.name, value=value, unit=reading.unit, limits=and_limits(reading),
        )  # fmt: skip
    body = v.ReadingEntered(reading.id, value, reading.unit, fits, command.entered_by)
    return [at.draft(body)]
