"""A step list as plain text, for reading on a terminal of 80 columns.

With a variant, the steps of that variant as a job would count them. Without
one, a list that has variants is shown whole, each special step marked with the
variants it is for: reading is allowed what running is not.
"""

import textwrap
from collections.abc import Iterator

from evidence_app.language import say, say_many
from evidence_app.steplist import model as m
from evidence_app.steplist.variants import is_used, steps_for

WIDTH = 80


def describe(step_list: m.StepList, variant: str | None = None) -> str:
    """The list as lines of at most 80 characters, where no word is longer.

    Raises EvidenceError when ``variant`` is not one of the list's.
    """
    shown = step_list.steps if variant is None else steps_for(step_list, variant)
    number_of = {step.id: number for number, step in enumerate(shown, 1)}
    named = {name for step in shown for name in step.cautions}
    sections = [
        _head(step_list, variant),
        _section(say("CAUTIONS"), _cautions(step_list, named)),
        _section(say("TOOLS"), _items(step_list.tools)),
        _section(say("CONSUMABLES"), _items(step_list.consumables)),
        _section(say("NEW EACH TIME"), _items(step_list.new_parts)),
        _section(say("STEPS"), _steps(shown, number_of, step_list, variant)),
        _section(say("STOP RULES"), _stop_rules(step_list)),
    ]
    return "\n\n".join(section for section in sections if section) + "\n"


def _head(step_list: m.StepList, variant: str | None) -> str:
    device = step_list.device
    lines = [
        *_wrap(step_list.title),
        *_wrap(say("{id}, version {version}", id=step_list.id, version=step_list.version)),
        *_wrap(say("Unit: {family}, model {model}", family=device.family, model=device.model)),
    ]
    for each in device.variants:
        if variant in (None, each.id):
            lines += _wrap(say("Variant: {id} ({title})", id=each.id, title=each.title))
    return "\n".join([*lines, "", *_wrap(step_list.defers_to)])


def _section(title: str, lines: Iterator[str]) -> str:
    body = list(lines)
    return "\n".join([title, *body]) if body else ""


def _cautions(step_list: m.StepList, named: set[str]) -> Iterator[str]:
    gravest_first = sorted(step_list.cautions, key=lambda each: list(m.Signal).index(each.signal))
    for caution in gravest_first:
        if caution.id in named:
            yield from caution_lines(caution)


def caution_lines(caution: m.Caution) -> list[str]:
    """A caution in full: its signal word, the hazard and how to avoid it."""
    hazard = _wrap(caution.hazard, f"  {say(caution.signal.value):<8} ", " " * 11)
    return [*hazard, *_wrap(caution.avoid, " " * 11)]


def _items(items: tuple[m.Item, ...]) -> Iterator[str]:
    for item in items:
        yield from _wrap(item.name, "  - ", "    ")


def _steps(
    shown: tuple[m.Step, ...], number_of: dict[str, int], step_list: m.StepList, variant: str | None
) -> Iterator[str]:
    marked = variant is None
    things = {thing.id: thing for thing in step_list.counted if marked or is_used(thing, variant)}
    signals = {caution.id: say(caution.signal.value) for caution in step_list.cautions}
    for step in shown:
        yield ""
        only = say(" [only {variants}]", variants=", ".join(step.variants))
        only = only if marked and step.variants else ""
        yield from _wrap(f"{step.title}{only}", f"{number_of[step.id]:>3}. ", "     ")
        yield from _wrap(step.instruction, "     ")
        for picture in step.pictures:
            yield from _wrap(say("Picture: {words}", words=picture.shows), "     ")
        for name in step.cautions:
            yield from _wrap(f"{signals[name]}: {name}", "     ! ", "       ")
        if step.hold:
            yield from _owed(_hold(step.hold))
        for reading in step.readings:
            yield from _owed(_reading(reading))
        for count in (each for each in step.counts if each.thing in things):
            way = say("Count out") if count.goes == "out" else say("Count in")
            yield from _owed(f"{way}: {count.listed} × {things[count.thing].words} ({count.thing})")
        if step.checkpoint:
            yield from _checkpoint(step.checkpoint, number_of)


def _hold(hold: m.Hold) -> str:
    most = say(", at most {most:g} s", most=hold.at_most_s) if hold.at_most_s is not None else ""
    return say("Hold at least {least:g} s", least=hold.at_least_s) + f"{most}: {hold.applied}"


def _reading(reading: m.Reading) -> str:
    named = say("Reading: {name}", name=reading.name)
    if reading.text:
        return named + say(", as text") + (say(" or by scan") if reading.scan else "")
    limits = _limits(reading) or (say("in {unit}", unit=reading.unit) if reading.unit else "")
    return named + (f" ({limits})" if limits else "")


def _checkpoint(checkpoint: m.Checkpoint, number_of: dict[str, int]) -> Iterator[str]:
    for photo in checkpoint.photos:
        yield from _owed(_photo(photo))
    yield from _owed(say("Finding: {question}", question=checkpoint.question))
    for finding in m.Finding:
        leads_to = _leads_to(checkpoint.finding.rule_for(finding), number_of)
        yield from _wrap(leads_to, f"         {say(m.FINDINGS[finding]) + ':':<12} ", " " * 22)


def _photo(photo: m.PhotoWanted) -> str:
    card = say(", scale card in view") if photo.scale_card else ""
    measured = photo.measurement and say(" (measured: {what})", what=_measurement(photo.measurement))
    return say("Photo {id}", id=photo.id) + f"{card}: {photo.framing}{measured or ''}"


def _measurement(measurement: m.Measurement) -> str:
    parts = [say(measurement.kind.rules.name)]
    if measurement.reference:
        parts.append(say("against photo {id}", id=measurement.reference))
    if measurement.second:
        parts.append(say("with photo {id}", id=measurement.second))
    if limits := _limits(measurement):
        parts.append(limits)
    if measurement.recess is not None:
        within = measurement.recess_tolerance or m.USUAL_RECESS_TOLERANCE
        parts.append(say("recess {mm:g} mm give or take {within:g}", mm=measurement.recess, within=within))
    return ", ".join(parts)


def _limits(limited: m.Reading | m.Measurement) -> str:
    low, high = limited.at_least, limited.at_most
    if low is not None and low == high:
        return say("exactly {value:g} {unit}", value=low, unit=limited.unit)
    words = [say("at least {value:g}", value=low)] if low is not None else []
    words += [say("at most {value:g}", value=high)] if high is not None else []
    return say(" and ").join(words) + f" {limited.unit}" if words else ""


def _leads_to(rule: m.Rule, number_of: dict[str, int]) -> str:
    if rule.stop:
        return say("stop the repair ({rule})", rule=rule.stop)
    if rule.redo_from:
        number = number_of[rule.redo_from]
        back = say("redo from step {number} ({step})", number=number, step=rule.redo_from)
        if rule.redo_limit is None:
            return back
        most = say_many(", at most once", ", at most {count} times", rule.redo_limit)
        return back + most + say(", then stop the repair ({rule})", rule=rule.then_stop)
    return say("go on")


def _stop_rules(step_list: m.StepList) -> Iterator[str]:
    for rule in step_list.stop_rules:
        yield ""
        by = say(" (also when the technician stops)") if rule.id == step_list.stop_by_technician else ""
        yield from _wrap(f"{rule.id}{by}", "  ", "  ")
        yield from _wrap(rule.reason, "     " + say("Reason") + ": ", "       ")
        yield from _wrap(rule.disposition, "     " + say("Required") + ": ", "       ")
        for prohibition in rule.prohibitions:
            yield from _wrap(prohibition, "     " + say("Forbidden") + ": ", "       ")
        for photo in rule.photos:
            yield from _owed(_photo(photo))
        if rule.spoken_reason:
            yield from _owed(say("Voice note: the reason, spoken"))
        if rule.names:
            yield from _owed(say("Name of: {roles}", roles=", ".join(rule.names)))


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
