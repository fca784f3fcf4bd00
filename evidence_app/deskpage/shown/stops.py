"""Where and why repairs stop: the groups, the reasons, and what did not count."""

from msgspec import Struct

from evidence_app.desk.stopped.counts import Stops, pareto
from evidence_app.desk.stopped.labels import Labels
from evidence_app.language import mark, say

GROUPINGS = {
    "week": mark("by week"),
    "step-list": mark("by step list"),
    "technician": mark("by technician"),
    "device-batch": mark("by unit batch"),
    "part-batch": mark("by part batch"),
}
_LEFT_OUT = {
    "that could not be read": mark("that could not be read"),
    "practice packages": mark("practice packages"),
    "of which a check fails": mark("of which a check fails"),
    "of a job that was received before": mark("of a job that was received before"),
}


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
    return (
        say("Group"),
        say("Stops"),
        say("Share"),
        say("Control limits"),
        say("95 % interval"),
        say("Remark"),
    )


def no_judgement() -> str:
    return say(
        "Shows where repairs stop, not who works well: the result depends mostly on which and how many "
        "units each person was given."
    )


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
            say("Not counted, {why}: {count}", count=count, why=say(_LEFT_OUT.get(why, why)))
            for why, count in stops.left_out
        ),
        groups=tuple(_group(point) for point in chart.points),
        reasons=tuple(
            say(
                "{count} stops, {share} so far: {reason}", count=count, share=f"{so_far:.0%}", reason=reason
            )
            for reason, count, so_far in pareto(stops)
        ),
    )


def picture_labels(stops: Stops) -> Labels:
    """What is written on the picture, in the language in use."""
    kind, _, what = stops.by.partition(":")
    by = say(GROUPINGS[kind]) if kind in GROUPINGS else stops.by
    return Labels(
        title=say(
            "Stopped jobs {by}: {stops} of {jobs}",
            by=f"{by} ({what})" if what else by,
            stops=stops.chart.stops,
            jobs=stops.chart.jobs,
        ),
        no_judgement=no_judgement(),
        share=say("share of jobs that were stopped"),
        interval=say("95 % interval (Wilson)"),
        within=say("within the limits"),
        outside=say("outside the limits"),
        few=say("few jobs: no conclusion"),
        together=say("all groups together"),
        limits=say("control limits (3 sigma)"),
        of=say("{stops} of {jobs}"),
        reasons=say("Reasons, most frequent first"),
        others=say("all other reasons"),
        so_far=say("{share} so far"),
        stops=say("stops"),
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
