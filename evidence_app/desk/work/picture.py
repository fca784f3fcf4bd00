"""The picture of the times at each step."""

from typing import BinaryIO

from matplotlib import rc_context
from matplotlib.figure import Figure

from evidence_app.desk.stopped.picture import SETTINGS, write
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
