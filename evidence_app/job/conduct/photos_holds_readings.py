"""The conduct check on photos, measurements, holds and readings."""

import re
from decimal import Decimal

import msgspec

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.recompute import gate_contradictions, measured_contradictions
from evidence_app.job.conduct.walk import Handlers, HoldSeen, PhotoSeen, Walk
from evidence_app.language import mark
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import Reading

_HELD_TOLERANCE_US = 1_000
"""How far a stated hold may lie from the monotonic clock's difference: the millisecond."""

_SERIAL = "serial-number"
"""The reading that reads the unit's own serial number."""

_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")


# --- photos ---------------------------------------------------------------------------


def _taken(walk: Walk, event: Event, body: v.PhotoTaken) -> None:
    walk.must_be_here(event)
    sha256 = body.photo.sha256
    if sha256 in walk.photos:
        walk.breach(
            event, "shows the photo of event {number} a second time", number=walk.photos[sha256].sequence
        )
        return
    if body.source.get("kind") == "practice" and not (walk.opened and walk.opened.practice):
        walk.breach(event, "is of the practice camera in a job that is not marked as practice")
    earlier = _replaces(walk, event, body)
    if body.retake_of != earlier:
        _breach_of_retake(walk, event, body.retake_of, earlier)
    walk.photos[sha256] = PhotoSeen(
        event.sequence, event.step, body.wanted, body.purpose, body.width, body.height
    )


def _replaces(walk: Walk, event: Event, body: v.PhotoTaken) -> str | None:
    """The photo that this one replaces; notes that it counts from now on."""
    if body.purpose == "note":
        if body.wanted is not None or walk.stop is not None:
            walk.breach(event, "is a note's photo where none can be")
        return None
    if body.purpose == "stop-reason":
        asked = {photo.id for photo in walk.stop.photos} if walk.stop else set()
        newest = walk.reasons
    else:
        asked = set(walk.wanted(event.step)) if walk.stop is None else set()
        shown = walk.at(event.step or "")
        newest, shown.go_on = shown.photos, False
    if body.wanted not in asked:
        walk.breach(event, "is for {wanted}, which is not wanted here", wanted=body.wanted)
        return None
    earlier = newest.get(body.wanted)
    newest[body.wanted] = body.photo.sha256
    return earlier


def _breach_of_retake(walk: Walk, event: Event, stated: str | None, earlier: str | None) -> None:
    if stated is not None and stated not in walk.photos:
        walk.breach(
            event,
            "says it retakes {photo}, a photo that is not in the journal before it",
            photo=stated[:12],
        )
    elif earlier is None:
        walk.breach(
            event,
            "says it retakes {photo}, which was not the photo for the same view",
            photo=(stated or "")[:12],
        )
    else:
        walk.breach(event, "does not say that it retakes {photo}", photo=earlier[:12])


def _known(walk: Walk, event: Event, sha256: str) -> PhotoSeen | None:
    photo = walk.photos.get(sha256)
    if photo is None:
        walk.breach(event, "names the photo {photo}, which was not taken before it", photo=sha256[:12])
    elif photo.step != event.step:
        walk.breach(event, "is recorded at another step than its photo, {step}", step=photo.step)
    return photo


def _judged(walk: Walk, event: Event, body: v.PhotoJudged) -> None:
    photo = _known(walk, event, body.photo)
    if photo is None:
        return
    if photo.passes is not None:
        walk.breach(event, "judges a photo a second time")
        return
    known = body.checks if walk.opened else ()  # without its opening no step is known either
    for said in gate_contradictions(known, photo.width, photo.height, _card_wanted(walk, photo)):
        walk.breach(event, said)
    photo.passes = bool(body.checks) and all(check.holds for check in body.checks)
    if body.passes != photo.passes:
        if body.passes:
            walk.breach(event, "says that the photo passes, which its checks do not give")
        else:
            walk.breach(event, "says that the photo does not pass, which its checks do not give")


def _card_wanted(walk: Walk, photo: PhotoSeen) -> bool:
    if photo.purpose == "stop-reason" and walk.stop:
        return any(each.scale_card for each in walk.stop.photos if each.id == photo.wanted)
    wanted = walk.wanted(photo.step).get(photo.wanted or "")
    return wanted is not None and wanted.scale_card


def _kept(walk: Walk, event: Event, body: v.PhotoKept) -> None:
    photo = _known(walk, event, body.photo)
    if photo is None:
        return
    if photo.passes is not False:
        walk.breach(event, "keeps a photo that was not found failing")
    if sum(sign.isalnum() for sign in body.reason) < 3:
        walk.breach(event, "keeps a photo without a reason that says something")
        return
    photo.kept = True


def _measured(walk: Walk, event: Event, body: v.Measured) -> None:
    photo = _known(walk, event, body.photo)
    if photo is None:
        return
    wanted = walk.wanted(photo.step).get(photo.wanted or "")
    if photo.wanted != body.wanted or wanted is None or wanted.measurement is None:
        walk.breach(event, "measures on a photo for which the step list asks no measurement")
        return
    if photo.measured not in (None, body.result):
        walk.breach(event, "measures a photo a second time, with another result")
    photo.measured = body.result
    if body.result.get("kind") != wanted.measurement.kind.value:
        walk.breach(event, "is not of the kind {kind}", kind=wanted.measurement.kind.value)
    if not photo.counts:
        walk.breach(event, "measures on a photo that neither passed nor was kept")
    for said in measured_contradictions(body.result, wanted.measurement):
        walk.breach(event, said)
    card = body.result.get("card")
    if isinstance(card, dict) and card.get("confirmed") is not False:
        named = walk.card and {"confirmed": True, **msgspec.to_builtins(walk.card)}
        if card != named:
            walk.breach(event, "relies on a scale card other than the one named before it")


def _card(walk: Walk, event: Event, body: v.ScaleCardNamed) -> None:
    walk.card = body


# --- holds ------------------------------------------------------------------------------


def _hold_started(walk: Walk, event: Event, body: v.HoldStarted) -> None:
    walk.must_be_here(event)
    table = walk.table(event.step)
    if table is None or table.hold is None:
        walk.breach(event, "starts a hold where the step list has none")
        return
    if walk.hold is not None:
        walk.breach(
            event, "starts a hold while that of event {number} is running", number=walk.hold.sequence
        )
    if body.at_least_s != table.hold.at_least_s:
        walk.breach(
            event,
            "asks for {stated:g} s; the step list asks {asked:g} s",
            stated=body.at_least_s,
            asked=table.hold.at_least_s,
        )
    walk.hold = HoldSeen(event.sequence, event.step, event.mono_us, event.boot)
    _not_yet_held(walk, event)


def _hold_ended(walk: Walk, event: Event, body: v.HoldEnded) -> None:
    walk.must_be_here(event)
    started, walk.hold = walk.hold, None
    table = walk.table(event.step)
    _not_yet_held(walk, event)
    if started is None or started.step != event.step or table is None or table.hold is None:
        walk.breach(event, "ends a hold that was not running at this step")
        return
    if not started.unbroken or started.boot != event.boot:
        walk.breach(event, "ends a hold over a restart of the machine; its length cannot be shown")
        return
    held_us = event.mono_us - started.mono_us
    if abs(held_us - body.held_s * 1e6) > _HELD_TOLERANCE_US:
        walk.breach(
            event,
            "says {stated:g} s were held; the clock shows {shown:g} s",
            stated=body.held_s,
            shown=held_us / 1e6,
        )
    at_most = table.hold.at_most_s
    met = held_us >= round(table.hold.at_least_s * 1e6)
    met = met and (at_most is None or held_us <= round(at_most * 1e6))
    if body.met != met:
        asked = sentence("at least {time:g} s is asked", time=table.hold.at_least_s)
        if at_most is not None:
            asked = sentence(
                "at least {time:g} s is asked and at most {at_most:g} s",
                time=table.hold.at_least_s,
                at_most=at_most,
            )
        said = mark("says the hold was not met; held {time:g} s, {asked}")
        if body.met:
            said = mark("says the hold was met; held {time:g} s, {asked}")
        walk.breach(event, said, time=held_us / 1e6, asked=asked)
    walk.at(table.id).held = met


def _hold_lost(walk: Walk, event: Event, body: v.HoldLost) -> None:
    started, walk.hold = walk.hold, None
    if started is None or started.step != event.step:
        walk.breach(event, "loses a hold that was not running at this step")
    elif started.unbroken and started.boot == event.boot:
        walk.breach(event, "says the hold was lost, but the machine was not restarted")


def _restarted(walk: Walk, event: Event, body: v.MachineRestarted) -> None:
    if walk.hold is not None:
        walk.hold.unbroken = False


def _not_yet_held(walk: Walk, event: Event) -> None:
    shown = walk.at(event.step or "")
    shown.held = shown.go_on = False


# --- readings -----------------------------------------------------------------------------


def _reading(walk: Walk, event: Event, body: v.ReadingEntered) -> None:
    walk.must_be_here(event)
    table = walk.table(event.step)
    asked = next((r for r in table.readings if r.id == body.reading), None) if table else None
    if asked is None:
        walk.breach(
            event, "enters the reading {reading}, which is not asked for here", reading=body.reading
        )
        return
    if body.unit != asked.unit:
        walk.breach(event, "is in {unit}; the step list asks for {asked}", unit=body.unit, asked=asked.unit)
    if body.entered_by == "scanned" and not asked.scan:
        walk.breach(event, "was scanned, which the step list does not allow")
    shown = walk.at(event.step or "")
    shown.go_on = False
    if problem := _unreadable(body.value, asked):
        walk.breach(event, problem)
        return
    within = None if asked.text else _within(Decimal(body.value), asked)
    if body.within != within:
        walk.breach(
            event,
            "says within: {stated} for {value}; the limits give {within}",
            stated=body.within,
            value=body.value,
            within=within,
        )
    shown.readings.add(asked.id)
    if asked.id == _SERIAL:
        walk.serial_read = body.value


def _unreadable(value: str, asked: Reading) -> Sentence | None:
    if asked.text:
        return None if value.strip() else sentence("enters a blank text")
    if len(value) > 30 or not _NUMBER.fullmatch(value):
        return sentence("enters “{value}”, which is not a plain decimal number", value=value[:30])
    decimals = len(value.partition(".")[2])
    if decimals > asked.decimals:
        return sentence(
            "enters {decimals} decimals; the step list asks for at most {asked}",
            decimals=decimals,
            asked=asked.decimals,
        )
    return None


def _within(value: Decimal, asked: Reading) -> bool | None:
    limits = [limit for limit in (asked.at_least, asked.at_most) if limit is not None]
    if not limits:
        return None
    if asked.at_least is not None and value < Decimal(repr(asked.at_least)):
        return False
    return asked.at_most is None or value <= Decimal(repr(asked.at_most))


SHOWN: Handlers = {
    "photo-taken": _taken,
    "photo-judged": _judged,
    "photo-kept": _kept,
    "scale-card-named": _card,
    "measured": _measured,
    "hold-started": _hold_started,
    "hold-ended": _hold_ended,
    "hold-lost": _hold_lost,
    "machine-restarted": _restarted,
    "reading-entered": _reading,
}
