"""Gauge study: how far readings of the same parts scatter, and where that comes from.

Crossed study, every operator reads every part equally often; two-way analysis of variance
with random effects. With p parts, o operators and r trials the expected mean squares
(Montgomery, Design and Analysis of Experiments, two-factor random-effects model) give

    repeatability = MS_error
    interaction   = (MS_interaction - MS_error) / r
    operators     = (MS_operators - MS_interaction) / (p r)
    parts         = (MS_parts - MS_interaction) / (o r)

as variances; a negative estimate counts as 0. An interaction that is not significant is
pooled with the error, as is usual for gauges: both sums of squares over both degrees of
freedom then stand for MS_error and MS_interaction, and the interaction is 0.
Reproducibility is operators and interaction together.
"""

import csv
import io
import math

import numpy as np
from msgspec import Struct
from scipy import special

from evidence_app.errors import EvidenceError
from evidence_app.language import mark
from evidence_app.sentence import Sentence, sentence, sentences_beside

_WORDS = sentences_beside(__file__)
COLUMNS = ("part", "operator", "trial", "value")
SPREAD = 6.0  # standard deviations set against the tolerance: 99.7 percent of a normal
POOLED_ABOVE = 0.25  # probability of F; common practice, no source


class Readings(Struct, frozen=True, eq=False):
    """``values`` (P, O, R) float64 in the unit of the file, axes as the names stand."""

    parts: tuple[str, ...]
    operators: tuple[str, ...]
    values: np.ndarray


class Share(Struct, frozen=True):
    """One source of variation: variance, standard deviation, and the standard deviation in
    percent of the total one, and times 6 in percent of the tolerance (None without one)."""

    name: str
    variance: float
    deviation: float
    of_total: float
    of_tolerance: float | None


class Effect(Struct, frozen=True):
    """A line of the analysis of variance: sum of squares, degrees of freedom, mean square;
    ``f`` is its mean square over that of the interaction (of the error for the interaction
    itself), ``p`` the probability of an F that large without the effect. Both are None for
    the error, and where that mean square is 0."""

    name: str
    squares: float
    degrees: int
    mean: float
    f: float | None = None
    p: float | None = None


class Study(Struct, frozen=True):
    """``effects`` always are parts, operators, interaction and repeatability, not pooled."""

    parts: int
    operators: int
    trials: int
    effects: tuple[Effect, ...]
    pooled: bool
    shares: tuple[Share, ...]


def study(readings: Readings, tolerance: float | None = None, pooled_above: float = POOLED_ABOVE) -> Study:
    """The shares of all sources; ``tolerance`` is the width of the permitted range in the
    unit of the readings. The interaction is pooled with the error when the probability of
    its F is above ``pooled_above`` (1: never). Raises EvidenceError when nothing varies, or
    the tolerance is not a positive number."""
    if tolerance is not None and not (math.isfinite(tolerance) and tolerance > 0):
        raise EvidenceError.worded(_WORDS["tolerance"], tolerance=tolerance)
    values = readings.values
    effects = _effects(values)
    interaction = effects[2]
    pooled = interaction.p is not None and interaction.p > pooled_above
    variances = _variances(values.shape, effects, pooled)
    if variances["total"] <= (1e-9 * np.abs(values).max()) ** 2:
        raise EvidenceError.worded(_WORDS["equal"])
    shares = tuple(
        Share(
            name,
            variance,
            math.sqrt(variance),
            100 * math.sqrt(variance / variances["total"]),
            None if tolerance is None else 100 * SPREAD * math.sqrt(variance) / tolerance,
        )
        for name, variance in variances.items()
    )
    parts, operators, trials = values.shape
    return Study(parts, operators, trials, effects, pooled, shares)


def _effects(values: np.ndarray) -> tuple[Effect, Effect, Effect, Effect]:
    """Parts, operators, interaction and repeatability of ``values`` (P, O, R)."""
    p, o, r = values.shape
    grand = values.mean()
    cell = values.mean(axis=2)
    part, operator = values.mean(axis=(1, 2)), values.mean(axis=(0, 2))
    both = cell - part[:, None] - operator[None, :] + grand
    # What rounding leaves of equal readings is no variation, and an F of it means nothing.
    least = values.size * (1e-12 * float(np.abs(values).max())) ** 2

    def line(name: str, squares: float, degrees: int, against: Effect | None = None) -> Effect:
        squares = squares if squares > least else 0.0
        mean = squares / degrees
        if against is None or not against.mean:
            return Effect(name, squares, degrees, mean)
        f = mean / against.mean
        return Effect(name, squares, degrees, mean, f, float(special.fdtrc(degrees, against.degrees, f)))

    error = line(mark("repeatability"), float(np.square(values - cell[:, :, None]).sum()), p * o * (r - 1))
    interaction = line(mark("interaction"), r * float(np.square(both).sum()), (p - 1) * (o - 1), error)
    operators = line(
        mark("operators"), p * r * float(np.square(operator - grand).sum()), o - 1, interaction
    )
    parts = line(mark("parts"), o * r * float(np.square(part - grand).sum()), p - 1, interaction)
    return parts, operators, interaction, error


def _variances(
    shape: tuple[int, int, int], effects: tuple[Effect, Effect, Effect, Effect], pooled: bool
) -> dict[str, float]:
    """The variance of each source by its name, in the order in which they are told."""
    p, o, r = shape
    parts, operators, interaction, error = effects
    within, between = error.mean, interaction.mean
    if pooled:
        within = between = (error.squares + interaction.squares) / (error.degrees + interaction.degrees)
    of_operators = max(0.0, (operators.mean - between) / (p * r))
    of_interaction = max(0.0, (between - within) / r)
    of_parts = max(0.0, (parts.mean - between) / (o * r))
    reproducibility = of_operators + of_interaction
    gauge = within + reproducibility
    return {
        "repeatability": within,
        mark("reproducibility"): reproducibility,
        "operators": of_operators,
        "interaction": of_interaction,
        mark("gauge"): gauge,
        "parts": of_parts,
        mark("total"): gauge + of_parts,
    }


def read_readings(data: bytes, where: str) -> Readings:
    """A CSV file (UTF-8, comma, a heading with part, operator, trial, value in any order).

    Raises EvidenceError naming ``where`` and the line, for anything that is not a full and
    balanced study of at least two parts, operators and trials."""
    found: dict[tuple[str, str], dict[str, float]] = {}
    for line, row in _rows(data, where):
        part, operator, trial, text = (row[name] for name in COLUMNS)
        trials = found.setdefault((part, operator), {})
        if trial in trials:
            raise EvidenceError.worded(_WORDS["twice"], line, part=part, operator=operator, trial=trial)
        trials[trial] = _number(text, line)
    return _balanced(found, where)


def _rows(data: bytes, where: str):
    """The place of each line and its stripped fields by column."""

    def line() -> Sentence:
        return sentence("{file}, line {line}", file=where, line=max(1, reader.line_num))

    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise EvidenceError.worded(_WORDS["not-text"], where) from error
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        heading = [name.strip().lower() for name in next(reader, [])]
        if any(heading.count(name) != 1 for name in COLUMNS):
            raise EvidenceError.worded(_WORDS["heading"], line())
        for row in reader:
            if not any(field.strip() for field in row):
                continue
            if len(row) != len(heading):
                raise EvidenceError.worded(_WORDS["fields"], line(), count=len(row), count2=len(heading))
            named = {name: field.strip() for name, field in zip(heading, row, strict=True)}
            if missing := [name for name in COLUMNS if not named[name]]:
                raise EvidenceError.worded(_WORDS["missing"], line(), missing=missing[0])
            yield line(), named
    except csv.Error as error:
        raise EvidenceError.worded(_WORDS["no-table"], line(), error=error) from error


def _number(text: str, where: Sentence) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or abs(value) > 1e9:
        raise EvidenceError.worded(_WORDS["no-number"], where, text=text)
    return value


def _balanced(found: dict[tuple[str, str], dict[str, float]], where: str) -> Readings:
    parts = tuple(dict.fromkeys(part for part, _ in found))
    operators = tuple(dict.fromkeys(operator for _, operator in found))
    most = max((len(trials) for trials in found.values()), default=0)
    if len(parts) < 2 or len(operators) < 2 or most < 2:
        raise EvidenceError.worded(
            _WORDS["too-few"], where, count=len(parts), count2=len(operators), most=most
        )
    for part in parts:
        for operator in operators:
            count = len(found.get((part, operator), {}))
            if count != most:
                raise EvidenceError.worded(
                    _WORDS["unbalanced"], where, operator=operator, count=count, part=part, most=most
                )
    values = np.array([[list(found[part, operator].values()) for operator in operators] for part in parts])
    return Readings(parts, operators, values)
