"""How the cost grows with the number of entries, photos, packages, register rows and photos known.

    python -m tests.bench growth [--plot OUT.png] [--series NAME ...] [--full] [--small] [--keep POINTS.json]

Each size is measured as a process of its own for its series: processor seconds and memory. The
exponent is that of a fixed cost and a power of the number fitted to total seconds, and is held
against what the same fit finds for n log n at the same sizes, with 0.1 for the noise of one run.
``--full`` goes to larger sizes (hours); what was not measured is calculated from the fit and drawn
dotted. Opening the tablet and the desk is held to a ratio between few and many finished jobs.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.optimize import nnls

from tests.bench import _growing
from tests.bench._figures import key_of, told

# Measured by default; measured with --full; in words what is calculated beyond.
SIZES = {
    "events": ([30, 100, 1000, 10_000], [30, 100, 1000, 10_000]),
    "photos": ([10, 100, 1000], [10, 100, 1000]),
    "packages": ([10, 100, 300], [10, 100, 1000, 10_000]),
    "register": ([1, 100, 1000, 10_000, 100_000], [1, 100, 10_000, 100_000, 1_000_000]),
    "finished": ([50, 200, 1000], [50, 1000, 10_000]),
    "index": ([700, 1400, 2800, 7000], [700, 7000, 50_000, 200_000]),
}
SMALL = {"events": [30, 60], "photos": [5, 10], "packages": [2, 10], "register": [1, 100],
         "finished": [5, 50], "index": [20, 100]}  # fmt: skip
GOALS = {"events": 10_000, "photos": 1000, "packages": 100_000, "register": 1_000_000,
         "finished": 10_000, "index": 200_000}  # fmt: skip
NOISE = 0.1
FLAT = ("tablet opened", "desk opened")
FLAT_RATIO = 1.5
SINGLE = "one page of the desk"  # its seconds are of one, not of all

Points = dict[str, list[list[float]]]


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench growth")
    parser.add_argument("--plot", type=Path)
    parser.add_argument("--series", nargs="+", choices=SIZES, default=list(SIZES))
    parser.add_argument("--full", action="store_true")
    parser.add_argument("--small", action="store_true", help="only to see that it works")
    parser.add_argument(
        "--keep", type=Path, help="the points as JSON: read when there, written after each series"
    )
    options = parser.parse_args(argv)
    kept = json.loads(options.keep.read_text()) if options.keep and options.keep.exists() else {}
    for series in options.series:
        if series not in kept:
            sizes = SMALL[series] if options.small else SIZES[series][options.full]
            kept[series] = _apart(series, sizes)
            if options.keep:
                options.keep.write_text(json.dumps(kept))
    print(f"{'':28}{'sizes':>18}{'s a unit':>18}{'MB':>14}{'exponent':>10}{'n log n':>9}")
    worse = [what for series in options.series for what in _report(kept[series], GOALS[series])]
    if options.plot:
        plotted([(points, GOALS[name]) for name, points in kept.items()], options.plot)
    print(f"worse than n log n, or not the same whatever is finished: {', '.join(worse) or 'nothing'}")
    return int(bool(worse))


def _apart(series: str, sizes: list[int]) -> Points:
    found: Points = {}
    for size in sizes:  # a process for each, whose memory is its own
        spawning = multiprocessing.get_context("spawn")
        with tempfile.TemporaryDirectory() as folder, spawning.Pool(1) as pool:
            for unit, count, seconds, mb in pool.apply(_measured, (series, size, folder)):
                found.setdefault(unit, []).append([count, seconds, mb])
                print(f"  {unit} at {count:,}: {seconds / count:.3g} s each, {mb:.0f} MB", flush=True)
    return found


def _measured(series: str, size: int, folder: str) -> list[_growing.Point]:
    return list(_growing.SERIES[series]([size], Path(folder)))


class Fit(NamedTuple):
    """Seconds as ``fixed`` + ``factor`` * number ** ``exponent``; ``limit``: the exponent that the
    same fit finds for n log n at the same sizes."""

    exponent: float
    limit: float
    fixed: float
    factor: float

    def at(self, size: float) -> float:
        return self.fixed + self.factor * size**self.exponent


def fitted(points: list[list[float]]) -> Fit:
    """What is paid once, however many there are, must not hide how the rest grows: it is fitted
    too. Least squares of relative errors, neither part below nothing."""
    sizes = np.array([each[0] for each in points], float)
    exponent, fixed, factor = _power(sizes, np.array([max(each[1], 1e-9) for each in points]))
    limit, _, _ = _power(sizes, sizes * np.log(np.maximum(sizes, 2)))
    return Fit(exponent, limit, fixed, factor)


def _power(sizes: np.ndarray, seconds: np.ndarray) -> tuple[float, float, float]:
    def parts(exponent: float) -> tuple[np.ndarray, float]:
        return nnls(np.stack([1 / seconds, sizes**exponent / seconds], 1), np.ones(len(sizes)))

    best = min(np.arange(0.3, 3.01, 0.01), key=lambda exponent: parts(exponent)[1])
    fixed, factor = parts(best)[0]
    return float(best), float(fixed), float(factor)


def _report(series: Points, goal: int) -> list[str]:
    worse = []
    for unit, points in series.items():
        first, last = points[0], points[-1]
        fit = fitted(points)
        name = key_of(unit)
        if unit in FLAT:
            ratio = last[1] / first[1]
            holds = ratio <= FLAT_RATIO
            print(f"{unit:28}{_sizes(points):>18}  {1e3 * first[1]:.0f} and {1e3 * last[1]:.0f} ms altogether, "
                  f"ratio {ratio:.2f} (at most {FLAT_RATIO}), {last[2]:.0f} MB")  # fmt: skip
            told(f"{name}-few", 1e3 * first[1], "ms")
            told(f"{name}-many", 1e3 * last[1], "ms")
            told(f"{name}-ratio", ratio)
        else:
            holds = fit.exponent <= fit.limit + NOISE
            each = f"{first[1] / first[0]:.2g} to {last[1] / last[0]:.2g}"
            print(f"{unit:28}{_sizes(points):>18}{each:>18}{f'{first[2]:.0f} to {last[2]:.0f}':>14}"
                  f"{fit.exponent:10.2f}{fit.limit:9.2f}  {'' if holds else 'worse'}")  # fmt: skip
            told(f"{name}-exponent", fit.exponent, "", len(points))
            told(
                f"{name}-last",
                last[1] if unit != SINGLE else 1e3 * last[1],
                "s" if unit != SINGLE else "ms",
            )
            if goal > last[0]:
                there = fit.at(goal)
                told(f"{name}-calculated", there, "s")
                print(f"{'':28}{f'{goal:,}':>18}  calculated: {there:,.0f} s of one processor altogether")
        told(f"{name}-memory", last[2], "MB")
        if not holds:
            worse.append(unit)
    return worse


def _sizes(points: list[list[float]]) -> str:
    return f"{points[0][0]:,} to {points[-1][0]:,}"


def plotted(series: list[tuple[Points, int]], path: Path) -> None:
    """Time and memory a unit over the number of units; hollow and dotted is calculated."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(13, 6.5), layout="constrained")
    panes = figure.subplots(1, 2)
    lines = [(unit, points, goal) for found, goal in series for unit, points in found.items()]
    for at, (unit, points, goal) in enumerate(lines):
        style = {"color": f"C{at % 10}", "marker": "osD^"[at // 10 % 4], "markersize": 4}
        fit, sizes = fitted(points), [each[0] for each in points]
        for pane, column, label in (
            (panes[0], 1, unit if unit in FLAT else f"{unit} ({fit.exponent:.2f})"),
            (panes[1], 2, unit),
        ):
            # Memory below a tenth of a MB is what the pages of the process happened to hold.
            units = [
                each[column] / each[0] if each[column] > 0.1 or column == 1 else math.nan for each in points
            ]
            pane.plot(sizes, units, label=label, **style)
            if goal > sizes[-1] and column == 1:
                pane.plot([sizes[-1], goal], [units[-1], fit.at(goal) / goal], ":", mfc="none", **style)
    for pane, what in zip(
        panes, ("processor seconds a unit (exponent of the total)", "MB a unit"), strict=True
    ):
        pane.set(xscale="log", yscale="log", xlabel="units", title=what)
        pane.grid(alpha=0.3)
        pane.legend(fontsize=7)
    figure.savefig(path, dpi=100)
