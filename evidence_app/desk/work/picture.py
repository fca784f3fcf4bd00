"""The pictures of the times at each step and of the scale cards' check bars."""

from typing import BinaryIO

from matplotlib import rc_context
from matplotlib.figure import Figure

from evidence_app.desk.stopped.picture import LEGEND, SETTINGS, draw_limits, draw_points, write
from evidence_app.desk.work.figures import Work, quartiles
from evidence_app.language import say

_ROW_IN, _WIDTH_IN = 0.28, 11.0
_MOST_DOTS = 200


def save_times(work: Work, file: BinaryIO, kind: str) -> None:
    """As ``kind``, png or svg: a box for each step from quartile to quartile with the median in
    it; where they are few, every job is a dot, so that few look like few."""
    spent = work.times()
    names = [say("{step} ({jobs} jobs)", step=step, jobs=len(times)) for (_, step), times in spent.items()]
    with rc_context(SETTINGS):
        picture = Figure(figsize=(_WIDTH_IN, 1.5 + _ROW_IN * len(spent)), layout="constrained")
        axes = picture.subplots()
        for place, values in enumerate(spent.values()):
            lower, median, upper = quartiles(values)
            box = {"q1": lower, "med": median, "q3": upper, "whislo": lower, "whishi": upper}
            axes.bxp(
                [box],
                positions=[place],
                orientation="horizontal",
                showfliers=False,
                medianprops={"color": "black"},
            )
            if len(values) <= _MOST_DOTS:
                axes.plot(values, [place] * len(values), ".", color="0.5", zorder=0)
        axes.set_yticks(range(len(names)), names, fontsize=8, parse_math=False)
        axes.invert_yaxis()
        axes.set_xlim(left=0)
        axes.set_xlabel(say("seconds at the step"))
        axes.set_title(say("Time at each step"))
        write(picture, file, kind)


def save_bars(work: Work, file: BinaryIO, kind: str) -> None:
    """As ``kind``, png or svg: a drift chart for each card on each tablet."""
    charts = work.bars()
    with rc_context(SETTINGS):
        picture = Figure(figsize=(_WIDTH_IN, 1 + 2.6 * len(charts)), layout="constrained")
        every = picture.subplots(max(1, len(charts)), squeeze=False)[:, 0]
        for axes, ((card, tablet), chart) in zip(every, charts.items(), strict=False):
            words = {"o": say("within the limits"), "s": say("outside the limits")}
            within = [chart.lower <= mm <= chart.upper for mm in chart.points]
            axes.plot(chart.points, color="0.5", linewidth=0.8)
            draw_points(axes, list(chart.points), ["o" if each else "s" for each in within], words)
            draw_limits(axes, chart)
            axes.set_xlim(-0.5, len(chart.points) - 0.5)
            axes.ticklabel_format(useOffset=False)
            axes.set_ylabel(say("check bar in mm"))
            axes.set_title(say("Card {card}, tablet {tablet}", card=card, tablet=tablet[:12]), loc="left")
            axes.legend(**{**LEGEND, "bbox_to_anchor": (0.7, 1.0), "ncols": 4})
        every[-1].set_xlabel(say("jobs, in the order of their closing"))
        write(picture, file, kind)
