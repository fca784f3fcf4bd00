"""Where and why repairs stop: the groups, the reasons, and what did not count."""

from msgspec import Struct

from evidence_app.desk.stopped.counts import NO_JUDGEMENT, Stops, pareto
from evidence_app.desk.work.figures import aligned
from evidence_app.language import say
from evidence_app.sentence import sentences_beside


class Group(Struct, frozen=True):
    """One row: label, stops of jobs, share, control limits, interval, remark."""

    cells: tuple[str, str, str, str, str, str]
    remarkable: bool


class StopsShown(Struct, frozen=True):
    head: str
    left_out: tuple[str, ...]
    groups: tuple[Group, ...]
    reasons: tuple[str, ...]


def headings() -> tuple[str, ...]:
    return tuple(map(say, sentences_beside(__file__)["headings"].values()))


def stops_shown(stops: Stops) -> StopsShown:
    chart = stops.chart
    head = (
        say(
            "{stops} of {jobs} jobs were stopped: {share}.",
            stops=chart.stops,
            jobs=chart.jobs,
            share=f"{chart.centre:.1%}",
        )
        if chart.jobs
        else say("There is no job to count yet.")
    )
    if stops.failing[1]:
        both, jobs = stops.with_failing
        head += " " + say(
            "With the {count} of which a check fails (a revoked key is one): {stops} of {jobs}.",
            count=stops.failing[1],
            stops=both,
            jobs=jobs,
        )
    return StopsShown(
        head=head,
        left_out=tuple(
            say("Not counted, {why}: {count}", count=count, why=say(why)) for why, count in stops.left_out
        ),
        groups=tuple(_group(point) for point in chart.points),
        reasons=tuple(
            say(
                "{count} stops, {share} so far: {reason}", count=count, share=f"{so_far:.0%}", reason=reason
            )
            for reason, count, so_far in pareto(stops)
        ),
    )


def _group(point) -> Group:
    remark = say("few jobs: no conclusion") if point.small else ""
    if point.outside:
        remark = say("outside the limits")
    if point.told:
        remark = say("few jobs, but the chance of this is {chance}", chance=f"{point.chance:.2g}")
    return Group(
        (
            point.label,
            say("{stops} of {jobs}", stops=point.stops, jobs=point.jobs),
            f"{point.share:.1%}",
            f"{point.lower:.1%} – {point.upper:.1%}",
            f"{point.wilson_lower:.1%} – {point.wilson_upper:.1%}",
            remark,
        ),
        point.outside or point.told,
    )


def lines_of(stops: Stops) -> list[str]:
    """The counts as a plain table."""
    shown = stops_shown(stops)
    groups = aligned([headings(), *(group.cells for group in shown.groups)])
    return [shown.head, *shown.left_out, *groups, *shown.reasons, say(NO_JUDGEMENT)]
