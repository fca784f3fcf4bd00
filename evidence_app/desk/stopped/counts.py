"""Where and why repairs stop: counts out of the register, as table, CSV and picture.

Practice packages do not count, nor packages of which a check fails, and a job
that was received twice counts once. Nothing here judges a person: a share
depends on which units came to whom, small counts are marked, and names can be
left out.
"""

import re
from collections import Counter
from collections.abc import Callable
from datetime import date
from typing import Any

from msgspec import Struct

from evidence_app.desk import search
from evidence_app.desk.export import table
from evidence_app.desk.register import Register
from evidence_app.desk.stopped.between import GChart, g_chart
from evidence_app.desk.stopped.proportions import PChart, Point, p_chart
from evidence_app.desk.wanted import Wanted
from evidence_app.errors import RegisterError
from evidence_app.language import mark
from evidence_app.sentence import sentence, sentences_beside

NO_JUDGEMENT = mark(
    "Shows where repairs stop, not who works well: the result depends mostly on which and how many "
    "units each person was given."
)
GROUPINGS = sentences_beside(__file__)["groupings"]
_OF = {"unit-batch": ":N", "part-batch": ":READING"}
_NOT_GIVEN = "not given"


_CELLS: dict[str, Callable[[Point], object]] = {
    "group": lambda p: p.label,
    "stops": lambda p: p.stops,
    "jobs": lambda p: p.jobs,
    "share": lambda p: round(p.share, 4),
    "lower control limit": lambda p: round(p.lower, 4),
    "upper control limit": lambda p: round(p.upper, 4),
    "Wilson 95 % lower": lambda p: round(p.wilson_lower, 4),
    "Wilson 95 % upper": lambda p: round(p.wilson_upper, 4),
    "few jobs": lambda p: "yes" if p.small else "no",
    "outside the limits": lambda p: "yes" if p.outside else "no",
    "chance": lambda p: round(p.chance, 5),
}
"""The columns of the CSV file."""


class Stops(Struct, frozen=True):
    """``by`` is the grouping, ``chart`` the shares, ``reasons`` (reason, stops) most frequent
    first, ``left_out`` how many packages did not count and why. ``failing`` are (stops, jobs)
    among those left out because a check fails: a revoked key must not take jobs away unseen.
    ``between`` has the jobs between stops, whatever the grouping."""

    by: str
    chart: PChart
    reasons: tuple[tuple[str, int], ...]
    left_out: tuple[tuple[str, int], ...]
    failing: tuple[int, int] = (0, 0)
    between: GChart = g_chart(())

    @property
    def with_failing(self) -> tuple[int, int]:
        """(stops, jobs) with the packages of which a check fails."""
        return self.chart.stops + self.failing[0], self.chart.jobs + self.failing[1]


def count_stops(
    register: Register, by: str = "week", wanted: Wanted | None = None, hide_names: bool = False
) -> Stops:
    """Count stops in groups.

    ``by``: week (ISO 8601, of the closing in UTC), step-list, technician,
    ``unit-batch:N`` (the first N characters of the serial number) or
    ``part-batch:READING`` (the value of that reading, such as a lot number).
    Raises RegisterError for another one.
    """
    rows = search.find(register, wanted or Wanted(), search.COUNTED)
    chosen, left_out, failing = counted(rows)
    label_of = _labels(register, by, chosen)
    if hide_names and by == "technician":
        label_of = hidden(label_of)
    jobs: Counter[str] = Counter()
    stops: Counter[str] = Counter()
    for row in chosen:
        jobs[label_of[row["id"]]] += 1
        stops[label_of[row["id"]]] += row["outcome"] == "stopped"
    # By its name or its week, never by its share: this is no list of the worst.
    groups = [(label, stops[label], jobs[label]) for label in sorted(jobs)]
    reasons = Counter(row["stop_reason"] or _NOT_GIVEN for row in chosen if row["outcome"] == "stopped")
    ranked = tuple(sorted(reasons.items(), key=lambda item: (-item[1], item[0])))
    in_order = sorted(chosen, key=lambda row: (row["closed_utc"], row["id"]))
    between = g_chart((row["closed_utc"][:10], row["outcome"] == "stopped") for row in in_order)
    return Stops(by, p_chart(groups), ranked, tuple(left_out.items()), failing, between)


def pareto(stops: Stops) -> list[tuple[str, int, float]]:
    """(reason, stops, share of all stops up to and with this reason), most frequent first."""
    total = sum(count for _, count in stops.reasons)
    rows, sum_ = [], 0
    for reason, count in stops.reasons:
        sum_ += count
        rows.append((reason, count, sum_ / total))
    return rows


def as_csv(stops: Stops) -> bytes:
    """All tables in one file, with a row that says what each is."""
    points = ([of(point) for of in _CELLS.values()] for point in stops.chart.points)
    rows: list[Any] = [_CELLS.keys(), *points]
    if stops.failing[1]:
        rows += [(), ("all, with those of which a check fails", *stops.with_failing)]
    rows += [(), ("reason", "stops", "share so far")]
    rows += [(reason, count, round(so_far, 4)) for reason, count, so_far in pareto(stops)]
    between = stops.between
    rows += [(), ("stop", "jobs since the stop before", "outside the limits", "chance of the last four")]
    rows += [(gap.day, gap.jobs, "yes" if gap.outside else "no", gap.chance) for gap in between.gaps]
    rows += [("mean", round(between.centre, 4)), ("lower control limit", between.lower)]
    rows += [("upper control limit", between.upper), ("jobs since the last stop", between.since)]
    return table([*rows, (), (NO_JUDGEMENT,)])


def counted(rows: list[dict[str, Any]]) -> tuple[list[dict[str, Any]], dict[str, int], tuple[int, int]]:
    """The packages that count, how many do not and why, and ``Stops.failing``."""
    left_out: Counter[str] = Counter()
    chosen: dict[str, dict[str, Any]] = {}
    failing: dict[str, bool] = {}
    for row in rows:
        if row["unreadable"] or row["closed_utc"] is None or row["job"] is None:
            left_out[mark("that could not be read")] += 1
        elif row["practice"]:
            left_out[mark("practice packages")] += 1
        elif row["exit_status"]:
            left_out[mark("of which a check fails")] += 1
            failing[row["job"]] = row["outcome"] == "stopped"
        elif row["job"] in chosen:
            left_out[mark("of a job that was received before")] += 1
        else:
            chosen[row["job"]] = row
    only = [stopped for job, stopped in failing.items() if job not in chosen]
    return list(chosen.values()), dict(left_out), (sum(only), len(only))


def _labels(register: Register, by: str, rows: list[dict[str, Any]]) -> dict[int, str]:
    """Number of each package to the group that it belongs to."""
    kind, _, what = by.partition(":")
    if by == "week":
        return {row["id"]: _week(row["closed_utc"]) for row in rows}
    if by in ("technician", "step-list"):
        return {row["id"]: row[by.replace("-", "_")] or _NOT_GIVEN for row in rows}
    if kind == "unit-batch" and re.fullmatch(r"[1-9]\d?", what):
        return {row["id"]: (row["serial"] or _NOT_GIVEN)[: int(what)] for row in rows}
    if kind == "part-batch" and what:
        query = "SELECT package, value FROM readings WHERE reading = ? ORDER BY id"
        with register.lookup() as database:
            found = dict(database.conn.execute(query, [what]))
        return {row["id"]: found.get(row["id"], _NOT_GIVEN) for row in rows}
    known = (kind + _OF.get(kind, "") for kind in GROUPINGS)
    raise RegisterError.none_of(known, sentence("stops cannot be grouped by “{by}”", by=by))


def _week(closed_utc: str) -> str:
    year, week, _ = date.fromisoformat(closed_utc[:10]).isocalendar()
    return f"{year}-W{week:02d}"


def hidden(labels: dict[int, str]) -> dict[int, str]:
    """A number for each name, by package."""
    # Numbered by first receipt, so that the number does not follow the alphabet of the names.
    numbers: dict[str, int] = {}
    for label in labels.values():
        numbers.setdefault(label, len(numbers) + 1)
    return {package: f"technician {numbers[label]:03d}" for package, label in labels.items()}
