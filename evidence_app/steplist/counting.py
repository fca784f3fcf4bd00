"""What is counted at a step for a variant, and the rules on it (18 and 19 of ``check``)."""

from collections import defaultdict
from collections.abc import Iterator

from evidence_app.steplist.defect import Defect, Path, defect
from evidence_app.steplist.model import CountAsked, CountedThing, Step, StepList
from evidence_app.steplist.variants import is_used, variant_ids

_Place = tuple[Step, Path, CountAsked]


def counts_at(
    step_list: StepList, step: Step, variant: str | None
) -> tuple[tuple[CountedThing, CountAsked], ...]:
    """What ``step`` counts of the things that ``variant`` has, in the order of the step."""
    things = {thing.id: thing for thing in step_list.counted if is_used(thing, variant)}
    return tuple((things[count.thing], count) for count in step.counts if count.thing in things)


def counting_defects(step_list: StepList) -> Iterator[Defect]:
    """Every breach of the rules on counting, in the order of the rules."""
    places: defaultdict[str, list[_Place]] = defaultdict(list)
    for index, step in enumerate(step_list.steps):
        for number, count in enumerate(step.counts):
            places[count.thing].append((step, ("steps", index, "counts", number, count.goes), count))
            if (count.out is None) == (count.in_ is None):
                yield defect(("steps", index, "counts", number), "not-one-of-out-and-in")
    for index, thing in enumerate(step_list.counted):
        known = [v for v in variant_ids(step_list) or (None,) if is_used(thing, v)]
        ways = [[(p, c) for step, p, c in places[thing.id] if is_used(step, v)] for v in known]
        if ways and not any(ways):
            yield defect(("counted", index, "id"), "not-counted", thing=thing.id)
        found = [_too_many(thing, way) for way in ways]
        yield from {each.path: each for each in found if each is not None}.values()


def _too_many(thing: CountedThing, way: list[tuple[Path, CountAsked]]) -> Defect | None:
    """The first count by which more went back than there can be."""
    pieces = {"out": 0, "in": 0}
    for path, count in way:
        pieces[count.goes] += count.listed
        there = pieces[way[0][1].goes]
        back = sum(pieces.values()) - there
        if back > there:
            return defect(path, "more-back", thing=thing.id, back=back, there=there)
    return None
