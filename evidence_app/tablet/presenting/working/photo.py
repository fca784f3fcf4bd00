"""The camera before the shot, the photo after it, and the finding."""

from msgspec import Struct

from evidence_app.job.rules.route import neighbour, newest_settled, step_named, stop_rule
from evidence_app.job.rules.steps import leads_to
from evidence_app.job.state.facts import Photo
from evidence_app.job.state.job_state import JobState
from evidence_app.job.summary.event_sentences import check_said, conformity_words
from evidence_app.language import reworded, say
from evidence_app.photo.gate.live import MOST_TILT_DEG, LiveLook
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import Finding, PhotoWanted, Rule, Step, StepList
from evidence_app.tablet.presenting.working.step import finding_words
from evidence_app.writing import bare

# --- before the shot -------------------------------------------------------------


class Meter(Struct, frozen=True):
    """One live check. ``holds`` None: not known yet."""

    name: str
    words: str
    holds: bool | None


class CameraShown(Struct, frozen=True):
    """``aimed``: something beside the scale card is measured, which leaning misreads."""

    framing: str
    card: bool
    aimed: bool
    retake: str | None


_AIMED = (MeasurementKind.GAP, MeasurementKind.MESH)
_WORDS = sentences_beside(__file__)
_METERS, _COMPARED = _WORDS["meters"], _WORDS["compared"]


def camera_shown(wanted: PhotoWanted | None, earlier: Photo | None) -> CameraShown:
    if wanted is None:
        return CameraShown(say("A photo added as a note"), False, False, None)
    retake = say("The earlier photo stays in the journal.") if earlier else None
    aimed = wanted.measurement is not None and wanted.measurement.kind in _AIMED
    return CameraShown(wanted.framing, wanted.scale_card, aimed, retake)


def meters(seen: LiveLook | None, card_wanted: bool, aimed: bool) -> tuple[Meter, ...]:
    """The gate's own checks and the scale card, on the live picture."""
    holds = [(say(name), getattr(seen, check).holds if seen else None) for check, name in _METERS.items()]
    words = {True: say("good"), False: say("not yet"), None: say("looking")}
    shown = [Meter(name, words[held], held) for name, held in holds]
    if card_wanted:
        shown.insert(0, Meter(say("Scale card"), *_card_seen(seen, aimed)))
    return tuple(shown)


def _card_seen(seen: LiveLook | None, aimed: bool) -> tuple[str, bool | None]:
    if seen is None:
        return say("looking"), None
    if seen.markers == 0:
        return say("not seen; lay it beside the part"), False
    if seen.markers < 4:
        return say("{count} of 4 markers seen", count=seen.markers), False
    if seen.tilt_deg is None:
        return say("all 4 markers seen"), True
    tilt = round(seen.tilt_deg)
    if tilt > MOST_TILT_DEG:
        return say("all 4 markers seen, tilted {tilt}°; look straight down on it", tilt=tilt), False
    if aimed and seen.aim is not None and not seen.aim.holds:
        return say("all 4 markers seen; move until the ring lies on what is measured"), False
    return say("all 4 markers seen, tilted {tilt}°", tilt=tilt), True


# --- after the shot -----------------------------------------------------------------


class PhotoShown(Struct, frozen=True):
    """``checks``: whether each holds, and its words."""

    framing: str
    verdict: str
    passes: bool
    checks: tuple[tuple[bool, str], ...]
    measurement: tuple[str, str] | None
    markup: str | None
    main: tuple[str, str]
    can_keep: bool


def photo_shown(framing: str, photo: Photo) -> PhotoShown:
    """A photo with the gate's word on it."""
    judged = sorted(photo.judged.checks if photo.judged else (), key=lambda c: c.holds)
    told = [(c.holds, say(check_said(c))) for c in judged]
    checks = tuple((holds, words if holds else say("Not yet. {way}", way=words)) for holds, words in told)
    if photo.passes is None:
        verdict = say("The photo is safe. It is being checked.")
    elif photo.passes:
        verdict = say("The photo is safe and passes every check.")
    elif photo.kept is not None:
        verdict = say("The photo is kept. Reason: {reason}", reason=photo.kept)
    else:
        verdict = say("The photo is safe, but it does not pass. Take it again, or keep it with a reason.")
    return PhotoShown(
        framing=framing,
        verdict=verdict,
        passes=photo.settled,
        checks=checks,
        measurement=_measurement(photo),
        markup=photo.measured.markup.sha256 if photo.measured and photo.measured.markup else None,
        main=("step", say("Use this photo")) if photo.settled else ("retake", say("Take it again")),
        can_keep=photo.passes is False and photo.kept is None,
    )


def _measurement(photo: Photo) -> tuple[str, str] | None:
    """(conformity in words, the sentence)."""
    if photo.measured is None:
        return None
    result = photo.measured.result
    words = conformity_words(result["conformity"], result.get("U") is None)
    return say(words), reworded(result)


def serves(photo: Photo) -> bool:
    """Whether nothing about a photo wants to be looked at before the next one."""
    refused = photo.measured is not None and photo.measured.result["conformity"] == "refused"
    return photo.passes is True and not refused


# --- the finding ------------------------------------------------------------------------


class FindingChoice(Struct, frozen=True):
    """``stops``: this finding ends the repair, so it is asked again. ``goes_on``: with it the
    work goes on to another step."""

    finding: str
    words: str
    leads_to: str
    stops: bool
    goes_on: bool


class Compared(Struct, frozen=True):
    """A photo to be compared with, by its SHA-256, ``beside`` or over the one that is judged.
    ``name``: what it is; ``words``: of the plate that shows it so."""

    photo: str
    beside: bool
    name: str
    words: str


class PhotoOfFinding(Struct, frozen=True):
    """A photo that a finding is about, by its SHA-256. ``ways`` to look at it, one after the other:
    None is alone. ``told``: what its measurement says."""

    framing: str
    photo: str
    ways: tuple[Compared | None, ...]
    told: str


class FindingAsked(Struct, frozen=True):
    question: str
    photos: tuple[PhotoOfFinding, ...]
    choices: tuple[FindingChoice, ...]


def finding_asked(step_list: StepList, state: JobState) -> FindingAsked:
    step = step_named(step_list, state.step)
    assert step is not None and step.checkpoint is not None
    rules = step.checkpoint.finding
    choices = tuple(_choice(step_list, state, step, f, rules.rule_for(f)) for f in Finding)
    photos = tuple(
        _judged(state, wanted, photo)
        for wanted in step.checkpoint.photos
        if (photo := state.photo_of(step.id, wanted.id)) is not None
    )
    return FindingAsked(step.checkpoint.question, photos, choices)


def _judged(state: JobState, wanted: PhotoWanted, photo: Photo) -> PhotoOfFinding:
    """Compared with the clean reference, and with the take before."""
    asked = wanted.measurement
    reference = newest_settled(state, asked.reference) if asked else None
    takes = [p for p in state.photos if (p.step, p.wanted) == (photo.step, photo.wanted)]
    known = {"reference": reference, "earlier": ([None, *takes])[takes.index(photo)]}
    ways = tuple(
        Compared(
            other.sha256, place == "beside", say(_COMPARED[which]["name"]), say(_COMPARED[which][place])
        )
        for which, other in known.items()
        if other is not None
        for place in ("beside", "over")
    )
    told = reworded(photo.measured.result) if photo.measured else ""
    return PhotoOfFinding(bare(wanted.framing), photo.sha256, ways if reference else (None, *ways), told)


def _choice(
    step_list: StepList, state: JobState, step: Step, finding: Finding, rule: Rule
) -> FindingChoice:
    redone = state.redos(step.id)
    to = leads_to(rule, redone)
    following = neighbour(step_list, state.variant, step.id, +1)
    words = finding_words(finding.value)
    if to.action == "stop":
        stop = stop_rule(step_list, to.rule)
        told = say("Stops the repair. {disposition}", disposition=stop.disposition if stop else "")
        return FindingChoice(finding.value, words, told, True, False)
    if to.action == "go-on":
        title = bare(following.title) if following else say("the end of the job")
        told = say("Goes on to: {title}.", title=title)
        return FindingChoice(finding.value, words, told, False, following is not None)
    return FindingChoice(finding.value, words, _sent_back(step_list, rule, redone), False, False)


def _sent_back(step_list: StepList, rule: Rule, redone: int) -> str:
    target = step_named(step_list, rule.redo_from)
    title = bare(target.title) if target else ""
    if rule.redo_limit is None:
        return say("Sends the work back to: {title}.", title=title)
    return say(
        "Sends the work back to: {title} ({number} of at most {limit} times).",
        title=title,
        number=redone + 1,
        limit=rule.redo_limit,
    )
