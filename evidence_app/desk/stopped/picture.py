"""The picture of where and why repairs stop."""

from collections.abc import Callable
from pathlib import Path
from textwrap import fill
from typing import Any, BinaryIO

from matplotlib import rc_context
from matplotlib.figure import Figure

from evidence_app.desk.stopped.between import GChart
from evidence_app.desk.stopped.counts import GROUPINGS, NO_JUDGEMENT, Stops
from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.package.durable import new_file
from evidence_app.sentence import sentence

# Text stays text in an SVG file, so that it can be searched and read aloud.
SETTINGS: dict[Any, Any] = {"svg.hashsalt": "evidence-app", "svg.fonttype": "none", "font.size": 10}
_DASHED: dict[str, Any] = {"color": "black", "linestyle": "--", "linewidth": 1}
LEGEND: dict[str, Any] = {
    "loc": "lower center", "bbox_to_anchor": (0.5, 1.0), "ncols": 2, "fontsize": 8, "frameon": False,
}  # fmt: skip
_MOST_REASONS = 12
_WIDEST_IN = 60.0
_MOST_UPRIGHT = 8
_LINES_OF_A_REASON = 2


def draw(path: Path, save_to: Callable[[BinaryIO, str], None]) -> None:
    """A picture by ``save_to``, as PNG or SVG by the ending of ``path``.

    Raises EvidenceError for another ending and when it cannot be written.
    """
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("png", "svg"):
        raise EvidenceError(
            sentence("a picture is written as PNG or SVG"),
            where=str(path),
            remedy=sentence("end its name in .png or .svg"),
        )
    with new_file(path) as file:
        save_to(file, kind)


def save(stops: Stops, file: BinaryIO, kind: str, least_width_in: float = 11.0) -> None:
    """Write it as ``kind``, png or svg. The same counts in one language give the same bytes.

    The letters keep their size in inches, so on a small screen a smaller ``least_width_in``
    shows them larger.
    """
    with rc_context(SETTINGS):
        write(_figure(stops, least_width_in), file, kind)


def write(figure: Figure, file: BinaryIO, kind: str) -> None:
    undated = {"Date": None} if kind == "svg" else {"Software": None}
    figure.savefig(file, format=kind, dpi=150, metadata=undated)


def _figure(stops: Stops, least_width_in: float) -> Figure:
    """The p-chart, the jobs between stops where there are any, the reasons. Drawn without any window."""
    width = min(_WIDEST_IN, max(least_width_in, 0.22 * len(stops.chart.points) + 2))
    heights = (5.1, 3.4, 3.4) if stops.between.gaps else (5.1, 3.4)
    picture = Figure(figsize=(width, sum(heights)), layout="constrained")
    above, *middle, below = picture.subplots(len(heights), 1, height_ratios=heights)
    _chart(above, stops)
    for axes in middle:
        _between(axes, stops.between)
    _reasons(below, stops, round(4 * width))
    kind, _, what = stops.by.partition(":")
    by = say(GROUPINGS[kind]) + (f" ({what})" if what else "")
    counts = {"stops": stops.chart.stops, "jobs": stops.chart.jobs}
    picture.suptitle(say("Stopped jobs {by}: {stops} of {jobs}", by=by, **counts), parse_math=False)
    picture.supxlabel(fill(say(NO_JUDGEMENT), round(13 * width)), fontsize=9)
    return picture


def _chart(axes, stops: Stops) -> None:
    points = stops.chart.points
    places = range(len(points))
    shares = [point.share for point in points]
    axes.errorbar(
        places,
        shares,
        yerr=(
            [max(0.0, p.share - p.wilson_lower) for p in points],
            [max(0.0, p.wilson_upper - p.share) for p in points],
        ),
        fmt="none",
        ecolor="0.6",
        capsize=3,
        label=say("95 % interval (Wilson)"),
    )
    if stops.by == "week":  # only weeks follow each other
        axes.plot(places, shares, color="0.5", linewidth=0.8)
    markers = ["s" if p.outside else "x" if p.small else "o" for p in points]
    words = {
        "o": say("within the limits"),
        "s": say("outside the limits"),
        "x": say("few jobs: no conclusion"),
    }
    draw_points(axes, shares, markers, words)
    axes.axhline(stops.chart.centre, color="black", linewidth=1, label=say("all groups together"))
    if points:
        said = say("control limits (3 sigma)")
        axes.step(places, [p.upper for p in points], where="mid", label=said, **_DASHED)
        axes.step(places, [p.lower for p in points], where="mid", **_DASHED)
    turned = len(points) > _MOST_UPRIGHT
    joint = ": " if turned else "\n"
    of = [say("{stops} of {jobs}", stops=point.stops, jobs=point.jobs) for point in points]
    ticks = [f"{point.label}{joint}{share}" for point, share in zip(points, of, strict=True)]
    axes.set_xticks(list(places), ticks, rotation=90 if turned else 0, fontsize=8, parse_math=False)
    axes.set_ylim(0, 1.02 * max([0.1, *(p.wilson_upper for p in points), *(p.upper for p in points)]))
    axes.set_ylabel(say("share of jobs that were stopped"))
    axes.legend(**LEGEND)


def draw_points(axes, values: list[float], markers: list[str], words: dict[str, str]) -> None:
    for marker, said in words.items():
        chosen = [place for place, each in enumerate(markers) if each == marker]
        face = "white" if marker == "o" else "black"
        if chosen:
            of = [values[place] for place in chosen]
            axes.plot(chosen, of, marker, color="black", markersize=8, markerfacecolor=face, label=said)


def draw_limits(axes, chart: Any) -> None:
    """``chart`` has ``centre``, ``lower`` and ``upper``."""
    axes.axhline(chart.centre, color="black", linewidth=1, label=say("mean"))
    axes.axhline(chart.upper, label=say("control limits (3 sigma)"), **_DASHED)
    axes.axhline(chart.lower, **_DASHED)
    axes.xaxis.get_major_locator().set_params(integer=True)


def _between(axes, chart: GChart) -> None:
    gaps = chart.gaps
    axes.plot([gap.jobs for gap in gaps], color="0.5", linewidth=0.8)
    words = {
        "o": say("jobs since the stop before"),
        "s": say("outside the limits, or four stops close together"),
    }
    draw_points(
        axes, [gap.jobs for gap in gaps], ["s" if g.outside or g.told else "o" for g in gaps], words
    )
    axes.plot([len(gaps)], [chart.since], "^", color="0.5", label=say("since the last stop, so far"))
    draw_limits(axes, chart)
    axes.set_ylim(bottom=0)
    axes.set_xlabel(say("stops, in the order of their closing"))
    axes.set_ylabel(say("jobs between stops"))
    axes.legend(**LEGEND)


def _reasons(axes, stops: Stops, line: int) -> None:
    shown = stops.reasons[:_MOST_REASONS]
    rest = sum(count for _, count in stops.reasons[_MOST_REASONS:])
    rows = [*shown, (say("all other reasons"), rest)] if rest else list(shown)
    axes.barh(range(len(rows)), [count for _, count in rows], color="0.75", edgecolor="black")
    names = [fill(r, line, max_lines=_LINES_OF_A_REASON, placeholder=" …") for r, _ in rows]
    axes.set_yticks(range(len(rows)), names, parse_math=False)
    axes.invert_yaxis()
    total = sum(count for _, count in rows)
    so_far = 0
    for place, (_, count) in enumerate(rows):
        so_far += count
        share = say("{share} so far", share=f"{so_far / total:.0%}")
        axes.annotate(f" {count}  ({share})", (count, place), va="center")
    axes.margins(x=0.4)
    axes.xaxis.get_major_locator().set_params(integer=True)
    axes.set_xlabel(say("stops"))
    axes.set_title(say("Reasons, most frequent first"))
