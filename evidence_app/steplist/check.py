"""The rules of a step list that its types cannot express.

Names
 1. An id is used once among the variants, cautions, tools, consumables, new
    parts, counted things, steps, stop rules, photos (of the whole list) and
    readings (of the whole list).
 2. Each variant, caution, step, stop rule, counted thing and reference photo that
    is named exists, and is named once in its place.
 3. Each caution is shown by a step and each stop rule is reached by something.

Way through the list, for each variant
 4. There is a step.
 5. Each step is reached: a finding of the step before it goes on.
 6. The last step can be passed, so that a job can be completed.

Finding rules
 7. Exactly one of go-on, redo-from and stop.
 8. redo-limit and then-stop stand together, beside a redo-from.
 9. redo-from names the same step or an earlier one that every variant of the
    step has.

Quantities
10. A hold's at-most-s is not below its at-least-s.
11. A limit has a unit, and at-least is not above at-most.
12. A text reading has no unit, limits or decimals; a number's limits can be
    entered with its decimals.
13. A measurement is in the unit of its kind, not negative, on a photo with the
    scale card in view; a gap and a mesh have a limit.
14. Residue has a reference, which is a photo wanted at an earlier step that
    every variant of the step has; its second photo stands above it at the same
    checkpoint; nothing else has either.
15. A recess stands at a mesh only, from 0 to 5 mm; its tolerance stands beside it
    and lies above 0.
16. A photo owed by a stop rule is not measured.

Counts
18. A count has exactly one of out and in; a step of its variants counts each thing.
19. On no variant's way does more of a thing go in than came out before; of a thing
    that is first brought in, no more comes out than went in.

A step that owes nothing is fine: it is an instruction to read and follow.
"""

from collections.abc import Iterable, Iterator
from itertools import zip_longest

from evidence_app.sentence import Sentence, sentence, verbatim
from evidence_app.steplist.counting import counting_defects
from evidence_app.steplist.defect import Defect, Path, defect
from evidence_app.steplist.model import Finding, Rule, Step, StepList
from evidence_app.steplist.quantities import quantity_defects
from evidence_app.steplist.variants import is_used, variant_ids, variants_lacking
from evidence_app.steplist.walks import all_photos, all_readings, all_rules


def rule_defects(step_list: StepList) -> list[Defect]:
    """Every breach of the rules above, in the order of the rules."""
    return [
        *_unique_ids(step_list),
        *_known_references(step_list),
        *_unused(step_list),
        *_ways(step_list),
        *_finding_rules(step_list),
        *quantity_defects(step_list),
        *counting_defects(step_list),
    ]


# Names


_VARIANT, _CAUTION = sentence("variant"), sentence("caution")
_STEP, _STOP_RULE = sentence("step"), sentence("stop rule")
_COUNTED = sentence("counted thing")


def _unique_ids(step_list: StepList) -> Iterator[Defect]:
    kinds: dict[Sentence, Iterable[tuple[Path, str]]] = {
        _VARIANT: _ids(("device", "variants"), step_list.device.variants),
        _CAUTION: _ids(("cautions",), step_list.cautions),
        sentence("tool"): _ids(("tools",), step_list.tools),
        sentence("consumable"): _ids(("consumables",), step_list.consumables),
        sentence("new part"): _ids(("new-parts",), step_list.new_parts),
        _COUNTED: _ids(("counted",), step_list.counted),
        _STEP: _ids(("steps",), step_list.steps),
        _STOP_RULE: _ids(("stop-rules",), step_list.stop_rules),
        sentence("photo"): (((*path, "id"), photo.id) for path, photo in all_photos(step_list)),
        sentence("reading"): (((*path, "id"), reading.id) for path, reading in all_readings(step_list)),
    }
    for kind, named in kinds.items():
        seen = set()
        for path, name in named:
            if name in seen:
                yield defect(path, "id-twice", name=name, kind=kind)
            seen.add(name)


def _known_references(step_list: StepList) -> Iterator[Defect]:
    cautions = {caution.id for caution in step_list.cautions}
    variants = set(variant_ids(step_list))
    steps = {step.id for step in step_list.steps}
    stop_rules = {rule.id for rule in step_list.stop_rules}
    counted = {thing.id for thing in step_list.counted}
    for index, step in enumerate(step_list.steps):
        yield from _known_each(("steps", index, "cautions"), step.cautions, _CAUTION, cautions)
        yield from _known_each(("steps", index, "variants"), step.variants, _VARIANT, variants)
        named = tuple(count.thing for count in step.counts)
        yield from _known_each(("steps", index, "counts"), named, _COUNTED, counted)
    for index, thing in enumerate(step_list.counted):
        yield from _known_each(("counted", index, "variants"), thing.variants, _VARIANT, variants)
        yield from _known(("counted", index, "missing"), thing.missing, _STOP_RULE, stop_rules)
    for path, _, rule in all_rules(step_list):
        yield from _known((*path, "redo-from"), rule.redo_from, _STEP, steps)
        yield from _known((*path, "then-stop"), rule.then_stop, _STOP_RULE, stop_rules)
        yield from _known((*path, "stop"), rule.stop, _STOP_RULE, stop_rules)
    yield from _known(("stop-by-technician",), step_list.stop_by_technician, _STOP_RULE, stop_rules)
    for index, stop_rule in enumerate(step_list.stop_rules):
        yield from _once(("stop-rules", index, "names"), stop_rule.names, sentence("role"))


def _known_each(path: Path, names: tuple[str, ...], kind: Sentence, known: set[str]) -> Iterator[Defect]:
    for index, name in enumerate(names):
        yield from _known((*path, index), name, kind, known)
    yield from _once(path, names, kind)


def _once(path: Path, names: tuple[str, ...], kind: Sentence) -> Iterator[Defect]:
    for index, name in enumerate(names):
        if name in names[:index]:
            yield defect((*path, index), "named-twice", kind=kind, name=name)


def _known(path: Path, name: str | None, kind: Sentence, known: set[str]) -> Iterator[Defect]:
    if name is None or name in known:
        return
    have = sentence("This list has no {kind} at all", kind=kind)
    if known:
        have = sentence("Known: {names}", names=", ".join(sorted(known)))
    yield defect(path, "not-there", kind=kind, name=name, have=have)


def _unused(step_list: StepList) -> Iterator[Defect]:
    shown = {name for step in step_list.steps for name in step.cautions}
    for index, caution in enumerate(step_list.cautions):
        if caution.id not in shown:
            yield defect(("cautions", index, "id"), "caution-not-shown", caution=caution.id)
    reached: set[str | None] = {step_list.stop_by_technician}
    reached |= {thing.missing for thing in step_list.counted}
    for _, _, rule in all_rules(step_list):
        reached |= {rule.stop, rule.then_stop}
    for index, stop_rule in enumerate(step_list.stop_rules):
        if stop_rule.id not in reached:
            yield defect(("stop-rules", index, "id"), "stop-rule-not-reached", stop_rule=stop_rule.id)


# Way through the list


def _ways(step_list: StepList) -> Iterator[Defect]:
    blocked = set()
    for variant in variant_ids(step_list) or (None,):
        of = sentence(' of the variant "{variant}"', variant=variant) if variant else ""
        used = [i for i, step in enumerate(step_list.steps) if is_used(step, variant)]
        if variant and not used:
            yield defect(
                ("device", "variants", variant_ids(step_list).index(variant)),
                "variant-without-step",
                variant=variant,
            )
        for here, after in zip_longest(used, used[1:]):
            step = step_list.steps[here]
            if _can_go_on(step) or (here, after) in blocked:
                continue
            blocked.add((here, after))
            if after is None:
                yield defect(
                    ("steps", here, "checkpoint", "finding"), "never-completed", step=step.id, of=of
                )
            else:
                yield defect(
                    ("steps", after, "id"),
                    "never-reached",
                    after=step_list.steps[after].id,
                    of=of,
                    step=step.id,
                )


def _can_go_on(step: Step) -> bool:
    if step.checkpoint is None:
        return True
    return any(step.checkpoint.finding.rule_for(finding).go_on for finding in Finding)


# Finding rules


def _finding_rules(step_list: StepList) -> Iterator[Defect]:
    place = {step.id: index for index, step in reversed(list(enumerate(step_list.steps)))}
    for path, index, rule in all_rules(step_list):
        given = {"go-on": rule.go_on, "redo-from": rule.redo_from, "stop": rule.stop}
        ways = [key for key, value in given.items() if value]
        if len(ways) != 1:
            found = sentence("none of them")
            for number, way in enumerate(ways):
                found = sentence("{found} and {way}", found=found, way=way) if number else verbatim(way)
            yield defect(path, "not-one-way", found=found)
        yield from _redo_limits(path, rule)
        if rule.redo_from in place:
            yield from _redo_target((*path, "redo-from"), step_list, index, place[rule.redo_from])


def _redo_limits(path: Path, rule: Rule) -> Iterator[Defect]:
    if rule.redo_limit is not None and rule.redo_from is None:
        yield defect((*path, "redo-limit"), "redo-limit-alone")
    if rule.redo_limit is not None and rule.then_stop is None:
        yield defect((*path, "redo-limit"), "redo-limit-without-stop")
    if rule.then_stop is not None and rule.redo_limit is None:
        yield defect((*path, "then-stop"), "then-stop-alone")


def _redo_target(path: Path, step_list: StepList, here: int, back: int) -> Iterator[Defect]:
    step, target = step_list.steps[here], step_list.steps[back]
    if back > here:
        yield defect(path, "redo-from-later", target=target.id, step=step.id)
    for variant in variants_lacking(step_list, step, target):
        yield defect(path, "redo-from-other-variant", target=target.id, variant=variant, step=step.id)


def _ids(path: Path, named: Iterable) -> Iterator[tuple[Path, str]]:
    for index, each in enumerate(named):
        yield (*path, index, "id"), each.id
