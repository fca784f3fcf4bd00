"""A step list as plain text, for reading on a terminal of 80 columns.

With a variant, the steps of that variant as a job would count them. Without
one, a list that has variants is shown whole, each special step marked with the
variants it is for: reading is allowed what running is not.
"""

import textwrap
from collections.abc import Iterator

from evidence_app.steplist.model import (
    USUAL_RECESS_TOLERANCE,
    Caution,
    Checkpoint,
    Finding,
    Hold,
    Item,
    Measurement,
    PhotoWanted,
    Reading,
    Rule,
    Signal,
    Step,
    StepList,
    StopRule,
)
from evidence_app.steplist.variants import steps_for

WIDTH = 80

_FINDING_WORDS = {
    Finding.CLEAR: "clear",
    Finding.NOT_CLEAR: "not clear",
    Finding.CANNOT_TELL: "cannot tell",
}


def describe(step_list: StepList, variant: str | None = None) -> str:
    """The list as lines of at most 80 characters, where no word is longer.

    Raises EvidenceError when ``variant`` is not one of the list's.
    """
    shown = step_list.steps if variant is None else steps_for(step_list, variant)
    number_of = {step.id: number for number, step in enumerate(shown, 1)}
    named = {name for step in shown for name in step.cautions}
    sections = [
        _head(step_list, variant),
        _section("CAUTIONS", _cautions(step_list, named)),
        _section("TOOLS", _items(step_list.tools)),
        _section("CONSUMABLES", _items(step_list.consumables)),
        _section("NEW EACH TIME", _items(step_list.new_parts)),
        _section("STEPS", _steps(shown, number_of, step_list, marked=variant is None)),
        _section("STOP RULES", _stop_rules(step_list)),
    ]
    return "\n\n".join(section for section in sections if section) + "\n"


def _head(step_list: StepList, variant: str | None) -> str:
    device = step_list.device
    lines = [
        *_wrap(step_list.title),
        *_wrap(f"{step_list.id}, version {step_list.version}"),
        *_wrap(f"Device: {device.family}, model {device.model}"),
    ]
    for each in device.variants:
        if variant in (None, each.id):
            lines += _wrap(f"Variant: {each.id} ({each.title})")
    return "\n".join([*lines, "", *_wrap(step_list.defers_to)])


def _section(title: str, lines: Iterator[str]) -> str:
    body = list(lines)
    return "\n".join([title, *body]) if body else ""


def _cautions(step_list: StepList, named: set[str]) -> Iterator[str]:
    gravest_first = sorted(step_list.cautions, key=lambda each: list(Signal).index(each.signal))
    for caution in gravest_first:
        if caution.id in named:
            yield from caution_lines(caution)


def caution_lines(caution: Caution) -> list[str]:
    """A caution in full: its signal word, the hazard and how to avoid it."""
    hazard = _wrap(caution.hazard, f"  {caution.signal.value:<8} ", " " * 11)
    return [*hazard, *_wrap(caution.avoid, " " * 11)]


def _items(items: tuple[Item, ...]) -> Iterator[str]:
    for item in items:
        yield from _wrap(item.name, "  - ", "    ")


def _steps(
    shown: tuple[Step, ...], number_of: dict[str, int], step_list: StepList, marked: bool
) -> Iterator[str]:
    signals = {caution.id: caution.signal.value for caution in step_list.cautions}
    for step in shown:
        yield ""
        only = f" [only {', '.join(step.variants)}]" if marked and step.variants else ""
        yield from _wrap(f"{step.title}{only}", f"{number_of[step.id]:>3}. ", "     ")
        yield from _wrap(step.instruction, "     ")
        for name in step.cautions:
            yield from _wrap(f"{signals[name]}: {name}", "     ! ", "       ")
        if step.hold:
            yield from _owed(_hold(step.hold))
        for reading in step.readings:
            yield from _owed(_reading(reading))
        if step.checkpoint:
            yield from _checkpoint(step.checkpoint, number_of)


def _hold(hold: Hold) -> str:
    most = f", at most {hold.at_most_s:g} s" if hold.at_most_s is not None else ""
    return f"Hold at least {hold.at_least_s:g} s{most}: {hold.applied}"


def _reading(reading: Reading) -> str:
    if reading.text:
        return f"Reading: {reading.name}, as text" + (" or by scan" if reading.scan else "")
    limits = _limits(reading) or (f"in {reading.unit}" if reading.unit else "")
    return f"Reading: {reading.name}" + (f" ({limits})" if limits else "")


def _checkpoint(checkpoint: Checkpoint, number_of: dict[str, int]) -> Iterator[str]:
    for photo in checkpoint.photos:
        yield from _owed(_photo(photo))
    yield from _owed(f"Finding: {checkpoint.question}")
    for finding in Finding:
        leads_to = _leads_to(checkpoint.finding.rule_for(finding), number_of)
        yield from _wrap(leads_to, f"         {_FINDING_WORDS[finding] + ':':<13}", " " * 22)


def _photo(photo: PhotoWanted) -> str:
    card = ", scale card in view" if photo.scale_card else ""
    measured = f" (measured: {_measurement(photo.measurement)})" if photo.measurement else ""
    return f"Photo {photo.id}{card}: {photo.framing}{measured}"


def _measurement(measurement: Measurement) -> str:
    parts = [measurement.kind.value]
    if measurement.reference:
        parts.append(f"against photo {measurement.reference}")
    if measurement.second:
        parts.append(f"with photo {measurement.second}")
    if limits := _limits(measurement):
        parts.append(limits)
    if measurement.recess is not None:
        within = measurement.recess_tolerance or USUAL_RECESS_TOLERANCE
        parts.append(f"recess {measurement.recess:g} mm give or take {within:g}")
    return ", ".join(parts)


def _limits(limited: Reading | Measurement) -> str:
    low, high = limited.at_least, limited.at_most
    if low is not None and low == high:
        return f"exactly {low:g} {limited.unit}"
    words = [f"at least {low:g}"] if low is not None else []
    words += [f"at most {high:g}"] if high is not None else []
    return f"{' and '.join(words)} {limited.unit}" if words else ""


def _leads_to(rule: Rule, number_of: dict[str, int]) -> str:
    if rule.stop:
        return f"stop the repair ({rule.stop})"
    if rule.redo_from:
        back = f"redo from step {number_of[rule.redo_from]} ({rule.redo_from})"
        if rule.redo_limit is None:
            return back
        times = "once" if rule.redo_limit == 1 else f"{rule.redo_limit} times"
        return f"{back}, at most {times}, then stop the repair ({rule.then_stop})"
    return "go on"


def _stop_rules(step_list: StepList) -> Iterator[str]:
    for rule in step_list.stop_rules:
        yield ""
        by = " (also when the technician stops)" if _is_technicians(rule, step_list) else ""
        yield from _wrap(f"{rule.id}{by}", "  ", "  ")
        yield from _wrap(rule.reason, "     Reason: ", "       ")
        yield from _wrap(rule.disposition, "     Required: ", "       ")
        for prohibition in rule.prohibitions:
            yield from _wrap(prohibition, "     Forbidden: ", "       ")
        for photo in rule.photos:
            yield from _owed(_photo(photo))
        if rule.spoken_reason:
            yield from _owed("Voice note: the reason, spoken")
        if rule.names:
            yield from _owed(f"Name of: {', '.join(rule.names)}")


def _is_technicians(rule: StopRule, step_list: StepList) -> bool:
    return rule.id == step_list.stop_by_technician


def _owed(text: str) -> Iterator[str]:
    return _wrap(text, "     [ ] ", "         ")


def _wrap(text: str, first: str = "", rest: str | None = None) -> Iterator[str]:
    """Paragraphs of ``text`` folded to the width, hanging under ``first``."""
    rest = first if rest is None else rest
    for paragraph in text.strip().splitlines():
        yield from textwrap.wrap(
            paragraph,
            WIDTH,
            initial_indent=first,
            subsequent_indent=rest,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
        first = rest
