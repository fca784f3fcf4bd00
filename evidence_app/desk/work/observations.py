"""What a job says of how the work went, as plain rows: one row, one observation."""

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from msgspec import Struct

from evidence_app.job.summary.model import Summary
from evidence_app.job.summary.open_parts import number
from evidence_app.photo.card.bar import BAR_U
from evidence_app.photo.results import BARS

TIME, PHOTO, CHECK, FINDING, MEASUREMENT, CARD = "time", "photo", "check", "finding", "measurement", "card"
BAR = "bar"
PASSES, KEPT, FAILS = "passes", "kept", "does-not-pass"


class Observation(Struct, frozen=True):
    """``kind``, and what the other fields are then:

    - time: ``value`` seconds at ``step``, all its visits together;
    - photo: one take of the photo ``name``, ``result`` passes, kept (with a reason) or does-not-pass;
    - check: a check of such a take that did not hold, by its name in ``result``, ``value`` what it saw;
    - finding: ``result`` as recorded;
    - measurement: of photo ``name``, ``value`` in the unit of its kind, ``u`` its expanded
      uncertainty, ``result`` its conformity;
    - card: the scale card ``name`` was confirmed, ``value`` true over printed length, ``u`` the
      standard uncertainty of that;
    - bar: the check bar of the scale card ``name`` (none: no confirmed one) in the photo ``result``
      of a measurement, ``value`` mm by the card's markers, ``u`` the standard uncertainty of that.
    """

    kind: str
    step: str | None = None
    name: str | None = None
    result: str | None = None
    value: float | None = None
    u: float | None = None


def observations_of(summary: Summary) -> Iterator[Observation]:
    """The rows of one job, in the order of its steps. What was taken back is left out."""
    used = summary.scale_cards[-1].serial if summary.scale_cards else None
    yield from _times(summary)
    for step in summary.steps:
        for photo in step.photos:
            if photo.taken_back or photo.wanted is None or photo.passes is None:
                continue
            result = PASSES if photo.passes else KEPT if photo.kept_reason else FAILS
            yield Observation(PHOTO, step.id, photo.wanted, result)
            for check in photo.checks:
                if not check.holds:
                    seen = check.value if isinstance(check.value, int | float) else None
                    yield Observation(CHECK, step.id, photo.wanted, check.name, seen)
            for each in photo.measurements:
                yield Observation(MEASUREMENT, step.id, photo.wanted, each.conformity, each.value, each.U)
                for name in BARS:
                    if bar := number(each.more, name):
                        yield Observation(BAR, step.id, used, name, bar, bar * BAR_U)
        for finding in step.findings:
            if not finding.taken_back:
                yield Observation(FINDING, step.id, None, finding.finding)
    for card in summary.scale_cards:
        yield Observation(CARD, None, card.serial, None, card.scale, card.scale_u)


def _times(summary: Summary) -> Iterator[Observation]:
    """Monotonic seconds between neighbouring entries, without absences and restarts: what
    lies before an entry belongs to the step where the entry before it was made."""
    spent: defaultdict[str, float] = defaultdict(float)
    for before, after in pairwise(summary.timeline):
        if before.step is None or before.kind == "job-left" or after.kind == "job-resumed":
            continue
        if before.since_opening_s is not None and after.since_opening_s is not None:
            spent[before.step] += max(0.0, after.since_opening_s - before.since_opening_s)
    for step in summary.steps:
        if step.id in spent:
            yield Observation(TIME, step.id, value=round(spent[step.id], 3))
