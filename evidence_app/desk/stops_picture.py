"""The picture of where and why repairs stop."""

from __future__ import annotations

from typing import BinaryIO

from matplotlib import rc_context
from matplotlib.figure import Figure

from evidence_app.desk.stops import NO_JUDGEMENT, Stops

# Text stays text in an SVG file, so that it can be searched and read aloud.
_SETTINGS = {"svg.hashsalt": "evidence-app", "svg.fonttype": "none", "font.size": 10}
_MOST_REASONS = 12
_WIDEST_IN = 60.0
_MOST_UPRIGHT = 8


def save(stops: Stops, file: BinaryIO, kind: str) -> None:
    """Write it as ``kind``, png or svg. The same counts give the same bytes."""
    with rc_context(_SETTINGS):
        undated = {"Date": None} if kind == "svg" else {"Software": None}
        _figure(stops).savefig(file, format=kind, dpi=150, metadata=undated)


def _figure(stops: Stops) -> Figure:
    """Above the p-chart, below the reasons. Drawn without any window."""
    width = min(_WIDEST_IN, max(11.0, 0.22 * len(stops.chart.points) + 2))
    picture = Figure(figsize=(width, 8.5), layout="constrained")
    above, below = picture.subplots(2, 1, height_ratios=(3, 2))
    _chart(above, stops)
    _reasons(below, stops)
    chart = stops.chart
    picture.suptitle(f"Stopped jobs by {stops.by}: {chart.stops} of {chart.jobs}", parse_math=False)
    picture.supxlabel(NO_JUDGEMENT, fontsize=9)
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
        label="95 % interval (Wilson)",
    )
    axes.plot(places, shares, color="0.5", linewidth=0.8)
    for marker, words, chosen in (
        (
            "o",
            "within the limits",
            [i for i, p in enumerate(points) if not p.small and not p.outside],
        ),
        ("s", "outside the limits", [i for i, p in enumerate(points) if p.outside]),
        ("x", "few jobs: no conclusion", [i for i, p in enumerate(points) if p.small]),
    ):
        if chosen:
            axes.plot(
                chosen,
                [shares[i] for i in chosen],
                marker,
                color="black",
                markersize=8,
                markerfacecolor="white" if marker == "o" else "black",
                label=words,
            )
    axes.axhline(stops.chart.centre, color="black", linewidth=1, label="all groups together")
    if points:
        axes.step(
            places,
            [p.upper for p in points],
            where="mid",
            color="black",
            linestyle="--",
            linewidth=1,
            label="control limits (3 sigma)",
        )
        axes.step(
            places,
            [p.lower for p in points],
            where="mid",
            color="black",
            linestyle="--",
            linewidth=1,
        )
    turned = len(points) > _MOST_UPRIGHT
    joint = ": " if turned else "\n"
    labels = [f"{point.label}{joint}{point.stops} of {point.jobs}" for point in points]
    axes.set_xticks(
        list(places), labels, rotation=90 if turned else 0, fontsize=8, parse_math=False
    )
    axes.set_ylim(
        0, 1.02 * max([0.1, *(p.wilson_upper for p in points), *(p.upper for p in points)])
    )
    axes.set_ylabel("share of jobs that were stopped")
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3, fontsize=8, frameon=False)


def _reasons(axes, stops: Stops) -> None:
    shown = stops.reasons[:_MOST_REASONS]
    rest = sum(count for _, count in stops.reasons[_MOST_REASONS:])
    rows = [*shown, ("all other reasons", rest)] if rest else list(shown)
    axes.barh(range(len(rows)), [count for _, count in rows], color="0.75", edgecolor="black")
    names = [reason if len(reason) <= 60 else f"{reason[:59]}…" for reason, _ in rows]
    axes.set_yticks(range(len(rows)), names, parse_math=False)
    axes.invert_yaxis()
    total = sum(count for _, count in rows)
    so_far = 0
    for place, (_, count) in enumerate(rows):
        so_far += count
        axes.annotate(f" {count}  ({so_far / total:.0%} so far)", (count, place), va="center")
    axes.margins(x=0.2)
    axes.xaxis.get_major_locator().set_params(integer=True)
    axes.set_xlabel("stops")
    axes.set_title("Reasons, most frequent first")
