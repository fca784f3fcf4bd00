"""The steps of one variant of the device.

A list without variants is run with ``None``. A list with variants is run for
exactly one of them: a job cannot leave open which device lies on the bench.
"""

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence
from evidence_app.steplist.model import CountedThing, Step, StepList


def variant_ids(step_list: StepList) -> tuple[str, ...]:
    """The ids of the variants that the list knows; empty when it has none."""
    return tuple(variant.id for variant in step_list.device.variants)


def steps_for(step_list: StepList, variant: str | None) -> tuple[Step, ...]:
    """The steps of ``variant``, in order.

    Raises EvidenceError when the variant is unknown, when the list has
    variants and none is named, and when it has none and one is named.
    """
    require_variant(step_list, variant)
    return tuple(step for step in step_list.steps if is_used(step, variant))


def is_used(step: Step | CountedThing, variant: str | None) -> bool:
    """Whether the step or counted thing belongs to the variant (or to the list without one)."""
    return not step.variants or variant in step.variants


def variants_lacking(step_list: StepList, step: Step, other: Step) -> tuple[str, ...]:
    """The variants that use ``step`` but not ``other``."""
    return tuple(
        variant
        for variant in variant_ids(step_list)
        if is_used(step, variant) and not is_used(other, variant)
    )


def require_variant(step_list: StepList, variant: str | None) -> None:
    """Raises EvidenceError unless the list can be run for ``variant``."""
    known = variant_ids(step_list)
    if variant in known or (variant is None and not known):
        return
    where = sentence("step list {id} {version}", id=step_list.id, version=step_list.version)
    remedy = sentence("Name one of: {names}", names=", ".join(known))
    if not known:
        what = sentence('there is no variant "{variant}"; this list has no variants', variant=variant)
        remedy = sentence("Leave the variant out")
    elif variant is None:
        what = sentence("this list has variants and none was named")
    else:
        what = sentence('there is no variant "{variant}"', variant=variant)
    raise EvidenceError(what, where=where, remedy=remedy)
