"""The way through a step list for one variant: what to prepare, which step is next."""

from evidence_app.job.state.facts import Photo
from evidence_app.job.state.job_state import JobState
from evidence_app.job.vocabulary import ItemList
from evidence_app.steplist.model import Caution, Item, PhotoWanted, Step, StepList, StopRule
from evidence_app.steplist.variants import is_used
from evidence_app.steplist.walks import photos_of


def steps_of(step_list: StepList, variant: str | None) -> tuple[Step, ...]:
    """The steps done for ``variant``, in the order of the file."""
    return tuple(step for step in step_list.steps if is_used(step, variant))


def cautions_of(step_list: StepList, variant: str | None) -> tuple[Caution, ...]:
    """The cautions that the steps of ``variant`` name, in the order of the file."""
    named = {caution for step in steps_of(step_list, variant) for caution in step.cautions}
    return tuple(caution for caution in step_list.cautions if caution.id in named)


def items_of(step_list: StepList) -> tuple[tuple[ItemList, Item], ...]:
    """Everything to tick off before work begins, as (list, item)."""
    lists: tuple[tuple[ItemList, tuple[Item, ...]], ...] = (
        ("tools", step_list.tools),
        ("consumables", step_list.consumables),
        ("new-parts", step_list.new_parts),
    )
    return tuple((name, item) for name, items in lists for item in items)


def step_named(step_list: StepList, step: str | None) -> Step | None:
    return next((each for each in step_list.steps if each.id == step), None)


def neighbour(step_list: StepList, variant: str | None, step: str | None, offset: int) -> Step | None:
    """The step ``offset`` places from ``step`` on this variant's way; None past an end."""
    way = steps_of(step_list, variant)
    here = next((place for place, each in enumerate(way) if each.id == step), None)
    if here is None or not 0 <= here + offset < len(way):
        return None
    return way[here + offset]


def stop_rule(step_list: StepList, rule: str | None) -> StopRule | None:
    return next((each for each in step_list.stop_rules if each.id == rule), None)


def rule_of_stop(step_list: StepList, state: JobState) -> StopRule | None:
    """The rule under which the repair was stopped."""
    return stop_rule(step_list, state.stop.rule) if state.stop else None


def asked_of(step_list: StepList, state: JobState, photo: Photo | None) -> PhotoWanted | None:
    """What the step list asks of a photo that was taken; None where it asks for none."""
    if photo is None:
        return None
    of_stop = photo.purpose == "stop-reason" and state.stop is not None
    return _wanted(step_list, state, None if of_stop else photo.step, photo.wanted)


def wanted_here(step_list: StepList, state: JobState, wanted: str | None) -> PhotoWanted | None:
    """The photo of this id that is asked for where the job stands."""
    return _wanted(step_list, state, None if state.phase == "stopped" else state.step, wanted)


def _wanted(
    step_list: StepList, state: JobState, step: str | None, wanted: str | None
) -> PhotoWanted | None:
    """At ``step``, or by the stop rule when ``step`` is None."""
    rule = rule_of_stop(step_list, state) if step is None else None
    photos = rule.photos if rule else photos_of(step_named(step_list, step))
    return next((photo for photo in photos if photo.id == wanted), None)


def newest_settled(state: JobState, view: str | None, step: str | None = None) -> Photo | None:
    """The newest photo of a view that counts, at one step or at any."""
    for photo in reversed(state.photos) if view is not None else ():
        if photo.wanted == view and photo.settled and step in (None, photo.step):
            return photo
    return None
