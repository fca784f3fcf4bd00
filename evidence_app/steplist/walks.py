"""Ways to go over a step list that give each part with its path in the file."""

from collections.abc import Iterator

from evidence_app.steplist.defect import Path
from evidence_app.steplist.model import Finding, PhotoWanted, Reading, Rule, Step, StepList


def photos_of(step: Step | None) -> tuple[PhotoWanted, ...]:
    return step.checkpoint.photos if step and step.checkpoint else ()


def checkpoint_photos(step_list: StepList) -> Iterator[tuple[Path, int, PhotoWanted]]:
    """Each photo that a checkpoint wants, with the position of its step."""
    for index, step in enumerate(step_list.steps):
        for number, photo in enumerate(photos_of(step)):
            yield ("steps", index, "checkpoint", "photos", number), index, photo


def stop_photos(step_list: StepList) -> Iterator[tuple[Path, PhotoWanted]]:
    for index, rule in enumerate(step_list.stop_rules):
        for number, photo in enumerate(rule.photos):
            yield ("stop-rules", index, "photos", number), photo


def all_photos(step_list: StepList) -> Iterator[tuple[Path, PhotoWanted]]:
    for path, _, photo in checkpoint_photos(step_list):
        yield path, photo
    yield from stop_photos(step_list)


def all_readings(step_list: StepList) -> Iterator[tuple[Path, Reading]]:
    for index, step in enumerate(step_list.steps):
        for number, reading in enumerate(step.readings):
            yield ("steps", index, "readings", number), reading


def all_rules(step_list: StepList) -> Iterator[tuple[Path, int, Rule]]:
    """Each rule of a finding, with the position of its step."""
    for index, step in enumerate(step_list.steps):
        if step.checkpoint is None:
            continue
        rules = step.checkpoint.finding
        for finding in Finding:
            path = ("steps", index, "checkpoint", "finding", finding.value)
            yield path, index, rules.rule_for(finding)
