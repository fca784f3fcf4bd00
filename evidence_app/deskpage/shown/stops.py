"""Where and why repairs stop: the groups, the reasons, the jobs between stops, and what did not count."""

from collections.abc import Iterator

from evidence_app.desk.stopped.between import FEW, GChart, JobsBetween
from evidence_app.desk.stopped.counts import NO_JUDGEMENT, Stops, pareto
from evidence_app.desk.stopped.proportions import Point
from evidence_app.desk.work.figures import Table, lines_of_table
from evidence_app.language import say, say_many

_SHOWN = 60  # stops with their distance to the one before; every one is in the CSV file


def head(stops: Stops) -> Iterator[str]:
    """How many were stopped, then what did not count."""
    chart = stops.chart
    counts = {"stops": chart.stops, "jobs": chart.jobs, "share": f"{chart.centre:.1%}"}
    stopped = say("{stops} of {jobs} jobs were stopped: {share}.", **counts)
    yield stopped if chart.jobs else say("There is no job to count yet.")
    if stops.failing[1]:
        both, jobs = stops.with_failing
        yield say(
            "With the {count} of which a check fails (a revoked key is one): {stops} of {jobs}.",
            count=stops.failing[1],
            stops=both,
            jobs=jobs,
        )
    for why, count in stops.left_out:
        yield say("Not counted, {why}: {count}", count=count, why=say(why))


def tables(stops: Stops) -> tuple[Table, ...]:
    return _groups(stops.chart.points), _reasons(stops), _between(stops.between)


def lines_of(stops: Stops) -> Iterator[str]:
    """The counts as plain text."""
    yield from head(stops)
    for each in tables(stops):
        yield from ("", *lines_of_table(each))
    yield from ("", say(NO_JUDGEMENT))


def _groups(points: tuple[Point, ...]) -> Table:
    rows = (
        (
            p.label,
            say("{stops} of {jobs}", stops=p.stops, jobs=p.jobs),
            f"{p.share:.1%}",
            f"{p.lower:.1%} – {p.upper:.1%}",
            f"{p.wilson_lower:.1%} – {p.wilson_upper:.1%}",
            _remark(p),
        )
        for p in points
    )
    limits = (say("Control limits"), say("95 % interval"))
    return Table(
        say("Groups"),
        "",
        (say("Group"), say("Stops"), say("Share"), *limits, say("Remark")),
        tuple(rows),
        tuple(place for place, point in enumerate(points) if point.outside or point.told),
    )


def _remark(point: Point) -> str:
    if point.told:
        return say("few jobs, but the chance of this is {chance}", chance=f"{point.chance:.2g}")
    if point.outside:
        return say("outside the limits")
    return say("few jobs: no conclusion") if point.small else ""


def _reasons(stops: Stops) -> Table:
    rows = tuple((reason, str(count), f"{so_far:.0%}") for reason, count, so_far in pareto(stops))
    heads = (say("Reason"), say("Stops"), say("Share so far"))
    return Table(say("Reasons, most frequent first"), "", heads, rows)


def _between(chart: GChart) -> Table:
    notes = [say_many("{count} job since the last stop.", "{count} jobs since the last stop.", chart.since)]
    if chart.gaps:
        values = {"mean": f"{chart.centre:.1f}", "lower": chart.lower, "upper": chart.upper}
        notes.insert(0, say("Mean {mean}, control limits {lower} to {upper}.", **values))
    if 0 < len(chart.gaps) < FEW:
        notes.append(say("The limits are rough: fewer than {few} stops follow another one.", few=FEW))
    if len(chart.gaps) > _SHOWN:
        notes.append(say("The last {count} are shown; the CSV file has all.", count=_SHOWN))
    shown = chart.gaps[: -_SHOWN - 1 : -1]
    rows = tuple((gap.day, str(gap.jobs), _remark_on(gap)) for gap in shown)
    heads = (say("Stop"), say("Jobs since the stop before"), say("Remark"))
    look = tuple(place for place, row in enumerate(rows) if row[-1])
    return Table(say("Jobs between stops"), " ".join(notes), heads, rows, look)


def _remark_on(gap: JobsBetween) -> str:
    if gap.told:
        return say("four stops close together, chance {chance}", chance=f"{gap.chance:.2g}")
    return say("outside the limits") if gap.outside else ""
