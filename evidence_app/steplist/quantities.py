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
                "hold-reversed",
                at_most_s=hold.at_most_s,
                at_least_s=hold.at_least_s,
            )


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
            yield defect((*path, key), "text-reading", key=key)


def _enterable_limits(path: Path, reading: Reading) -> Iterator[Defect]:
    for key, limit in (("at-least", reading.at_least), ("at-most", reading.at_most)):
        if limit is None:
            continue
        written = Decimal(str(limit))
        if written != round(written, reading.decimals):
            yield defect((*path, key), "limit-decimals", limit=limit, decimals=reading.decimals)


def _limits(path: Path, limited: Reading | Measurement) -> Iterator[Defect]:
    low, high = limited.at_least, limited.at_most
    for key, limit in (("at-least", low), ("at-most", high)):
        if limit is not None and limited.unit is None:
            yield defect((*path, key), "limit-without-unit")
    if low is not None and high is not None and low > high:
        yield defect((*path, "at-least"), "limits-reversed", low=low, high=high)


def _measurements(step_list: StepList) -> Iterator[Defect]:
    for path, index, photo in checkpoint_photos(step_list):
        if photo.measurement is None:
            continue
        yield from _measurement((*path, "measurement"), photo.measurement)
        yield from _reference((*path, "measurement"), step_list, index, photo.measurement)
        yield from _second((*path, "measurement"), step_list.steps[index], photo)
        yield from recess_defects((*path, "measurement"), photo.measurement)
        if not photo.scale_card:
            yield defect(path, "no-scale-card")
    for path, photo in stop_photos(step_list):
        if photo.measurement is not None:
            yield defect((*path, "measurement"), "measured-at-stop")


def _measurement(path: Path, measurement: Measurement) -> Iterator[Defect]:
    kind, unit = measurement.kind, measurement.kind.rules.unit
    yield from _limits(path, measurement)
    if measurement.unit is not None and measurement.unit != unit:
        yield defect((*path, "unit"), "other-unit", kind=kind.value, unit=unit, found=measurement.unit)
    limits = {"at-least": measurement.at_least, "at-most": measurement.at_most}
    for key, limit in limits.items():
        if limit is not None and limit < 0:
            yield defect((*path, key), "negative", limit=limit)
    if kind.rules.limited and set(limits.values()) == {None}:
        yield defect(path, "no-limit", kind=kind.value, unit=unit)


def _foreign(path: Path, measurement: Measurement, given: dict[str, object]) -> Defect | None:
    """The first of the keys that are ``given`` and that this kind of measurement does not have."""
    for key, value in given.items():
        if value is not None and key not in measurement.kind.rules.keys:
            having = [kind.value for kind in MeasurementKind if key in kind.rules.keys]
            return defect(
                (*path, key), "foreign-key", kind=measurement.kind.value, key=key, kinds=", ".join(having)
            )
    return None


def recess_defects(path: Path, measurement: Measurement) -> Iterator[Defect]:
    """What is wrong with a measurement's recess and its tolerance."""
    recess, tolerance = measurement.recess, measurement.recess_tolerance
    foreign = _foreign(path, measurement, {"recess": recess, "recess-tolerance": tolerance})
    if foreign is not None:
        yield foreign
        return
    if recess is not None and not 0 <= recess <= MOST_RECESS:
        yield defect((*path, "recess"), "recess", recess=recess, most_recess=MOST_RECESS)
    if tolerance is not None and recess is None:
        yield defect((*path, "recess-tolerance"), "tolerance-alone")
    if tolerance is not None and not 0 < tolerance <= MOST_RECESS:
        yield defect((*path, "recess-tolerance"), "tolerance", tolerance=tolerance, most_recess=MOST_RECESS)


def _reference(path: Path, step_list: StepList, index: int, measurement: Measurement) -> Iterator[Defect]:
    reference, kind = measurement.reference, measurement.kind
    foreign = _foreign(path, measurement, {"reference": reference})
    if foreign is not None:
        yield foreign
        return
    if reference is None:
        if "reference" in kind.rules.keys:
            yield defect(path, "no-reference", kind=kind.value)
        return
    step, earlier = step_list.steps[index], step_list.steps[:index]
    source = {photo.id: each for each in earlier for photo in photos_of(each)}
    if reference not in source:
        yield defect((*path, "reference"), "reference-not-before", step=step.id, reference=reference)
        return
    for variant in variants_lacking(step_list, step, source[reference]):
        yield defect(
            (*path, "reference"),
            "reference-other-variant",
            reference=reference,
            variant=variant,
            step=step.id,
        )


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
        yield defect((*path, "second"), "second-not-above", step=step.id, second=measurement.second)
