"""The rules on holds, limits, readings and measurements (11 to 17 of ``check``)."""

from collections.abc import Iterator
from decimal import Decimal

from evidence_app.steplist.defect import Defect, Path, defect
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import MOST_RECESS, Measurement, PhotoWanted, Reading, Step, StepList
from evidence_app.steplist.variants import variants_lacking
from evidence_app.steplist.walks import all_readings, checkpoint_photos, photos_of, stop_photos


def quantity_defects(step_list: StepList) -> Iterator[Defect]:
    """Every breach of the rules on quantities, in the order of the rules."""
    yield from _holds(step_list)
    yield from _readings(step_list)
    yield from _measurements(step_list)


def _holds(step_list: StepList) -> Iterator[Defect]:
    for index, step in enumerate(step_list.steps):
        hold = step.hold
        if hold and hold.at_most_s is not None and hold.at_most_s < hold.at_least_s:
            yield defect(
                ("steps", index, "hold", "at-most-s"),
                "at-most-s {at_most_s:g} is below at-least-s {at_least_s:g}",
                "Write the longer time in at-most-s, both in seconds",
                at_most_s=hold.at_most_s, at_least_s=hold.at_least_s,
            )  # fmt: skip


def _readings(step_list: StepList) -> Iterator[Defect]:
    for path, reading in all_readings(step_list):
        if reading.text:
            yield from _text_reading(path, reading)
        else:
            yield from _limits(path, reading)
            yield from _enterable_limits(path, reading)


def _text_reading(path: Path, reading: Reading) -> Iterator[Defect]:
    for key, value in (
        ("unit", reading.unit),
        ("at-least", reading.at_least),
        ("at-most", reading.at_most),
        ("decimals", reading.decimals or None),
    ):
        if value is not None:
            yield defect(
                (*path, key), "a text reading cannot have {key}",
                "Remove {key}, or remove text = true if a number is read", key=key,
            )  # fmt: skip


def _enterable_limits(path: Path, reading: Reading) -> Iterator[Defect]:
    for key, limit in (("at-least", reading.at_least), ("at-most", reading.at_most)):
        if limit is None:
            continue
        written = Decimal(str(limit))
        if written != round(written, reading.decimals):
            yield defect(
                (*path, key), "the limit {limit:g} cannot be entered with {decimals} decimals",
                "Raise decimals, or round the limit", limit=limit, decimals=reading.decimals,
            )  # fmt: skip


def _limits(path: Path, limited: Reading | Measurement) -> Iterator[Defect]:
    low, high = limited.at_least, limited.at_most
    for key, limit in (("at-least", low), ("at-most", high)):
        if limit is not None and limited.unit is None:
            yield defect((*path, key), "this limit has no unit", "Add unit beside it")
    if low is not None and high is not None and low > high:
        yield defect(
            (*path, "at-least"), "at-least {low:g} is above at-most {high:g}",
            "Write the smaller limit in at-least", low=low, high=high,
        )  # fmt: skip


def _measurements(step_list: StepList) -> Iterator[Defect]:
    for path, index, photo in checkpoint_photos(step_list):
        if photo.measurement is None:
            continue
        yield from _measurement((*path, "measurement"), photo.measurement)
        yield from _reference((*path, "measurement"), step_list, index, photo.measurement)
        yield from _second((*path, "measurement"), step_list.steps[index], photo)
        yield from recess_defects((*path, "measurement"), photo.measurement)
        if not photo.scale_card:
            yield defect(
                path, "a measured photo needs the scale card in view",
                "Add scale-card = true to the photo",
            )  # fmt: skip
    for path, photo in stop_photos(step_list):
        if photo.measurement is not None:
            yield defect(
                (*path, "measurement"), "a photo owed by a stop rule is not measured",
                "Remove the measurement, or move it to the checkpoint before the stop",
            )  # fmt: skip


def _measurement(path: Path, measurement: Measurement) -> Iterator[Defect]:
    kind, unit = measurement.kind, measurement.kind.rules.unit
    yield from _limits(path, measurement)
    if measurement.unit is not None and measurement.unit != unit:
        yield defect(
            (*path, "unit"), 'the measurement {kind} is in {unit}, found "{found}"',
            'Write unit = "{unit}" and the limits in {unit}',
            kind=kind.value, unit=unit, found=measurement.unit,
        )  # fmt: skip
    limits = {"at-least": measurement.at_least, "at-most": measurement.at_most}
    for key, limit in limits.items():
        if limit is not None and limit < 0:
            yield defect((*path, key), "the limit {limit:g} is negative", "Write it from 0 up", limit=limit)
    if kind.rules.limited and set(limits.values()) == {None}:
        yield defect(
            path, "the measurement {kind} has no limit",
            'Add at-most or at-least with unit = "{unit}"', kind=kind.value, unit=unit,
        )  # fmt: skip


def _foreign(path: Path, measurement: Measurement, given: dict[str, object]) -> Defect | None:
    """The first of the keys that are ``given`` and that this kind of measurement does not have."""
    for key, value in given.items():
        if value is not None and key not in measurement.kind.rules.keys:
            having = [kind.value for kind in MeasurementKind if key in kind.rules.keys]
            return defect(
                (*path, key), "the measurement {kind} has no {key}",
                "Remove {key}; only {kinds} has one",
                kind=measurement.kind.value, key=key, kinds=", ".join(having),
            )  # fmt: skip
    return None


def recess_defects(path: Path, measurement: Measurement) -> Iterator[Defect]:
    """What is wrong with a measurement's recess and its tolerance."""
    recess, tolerance = measurement.recess, measurement.recess_tolerance
    foreign = _foreign(path, measurement, {"recess": recess, "recess-tolerance": tolerance})
    if foreign is not None:
        yield foreign
        return
    if recess is not None and not 0 <= recess <= MOST_RECESS:
        yield defect(
            (*path, "recess"), "the recess {recess:g} is not between 0 and {most_recess:g} mm",
            "Write how far the strip lies below its opening's rim, in mm",
            recess=recess, most_recess=MOST_RECESS,
        )  # fmt: skip
    if tolerance is not None and recess is None:
        yield defect(
            (*path, "recess-tolerance"), "this tolerance has no recess",
            "Add recess beside it, or remove recess-tolerance",
        )  # fmt: skip
    if tolerance is not None and not 0 < tolerance <= MOST_RECESS:
        yield defect(
            (*path, "recess-tolerance"),
            "the recess tolerance {tolerance:g} is not above 0 and at most {most_recess:g} mm",
            "Write by how much the recess may differ to either side, in mm",
            tolerance=tolerance, most_recess=MOST_RECESS,
        )  # fmt: skip


def _reference(path: Path, step_list: StepList, index: int, measurement: Measurement) -> Iterator[Defect]:
    reference, kind = measurement.reference, measurement.kind
    foreign = _foreign(path, measurement, {"reference": reference})
    if foreign is not None:
        yield foreign
        return
    if reference is None:
        if "reference" in kind.rules.keys:
            yield defect(
                path, "the measurement {kind} needs a reference",
                "Add reference = the id of a photo of an earlier step that shows the area clean",
                kind=kind.value,
            )  # fmt: skip
        return
    step, earlier = step_list.steps[index], step_list.steps[:index]
    source = {photo.id: each for each in earlier for photo in photos_of(each)}
    if reference not in source:
        yield defect(
            (*path, "reference"), 'no step before "{step}" wants a photo "{reference}"',
            "Name a photo of an earlier step that shows the same area clean",
            step=step.id, reference=reference,
        )  # fmt: skip
        return
    for variant in variants_lacking(step_list, step, source[reference]):
        yield defect(
            (*path, "reference"), 'the photo "{reference}" is not taken in the variant "{variant}"',
            'Name a photo that each variant of "{step}" takes',
            reference=reference, variant=variant, step=step.id,
        )  # fmt: skip


def _second(path: Path, step: Step, photo: PhotoWanted) -> Iterator[Defect]:
    """What is wrong with the photo from another angle that a measurement names."""
    measurement = photo.measurement
    if measurement is None or measurement.second is None:
        return
    foreign = _foreign(path, measurement, {"second": measurement.second})
    if foreign is not None:
        yield foreign
        return
    ids = [each.id for each in photos_of(step)]
    if measurement.second not in ids[: ids.index(photo.id)]:
        yield defect(
            (*path, "second"), 'the step "{step}" wants no photo "{second}" before this one',
            "Name a photo that stands above this one at the same checkpoint",
            step=step.id, second=measurement.second,
        )  # fmt: skip
