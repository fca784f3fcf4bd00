"""What is measured on rendered photos against their truth: error, coverage and refusals.

Seams here; the other parts stand in the files _photo_*.py beside this one.

Scenes are drawn from the scoring seeds only; measurements were tuned on others. Rendered
scenes are not evidence about real photos: a depot checks those with its own feeler gauges.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Callable

import cv2
import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from threadpoolctl import threadpool_limits

from evidence_app.photo import intake
from evidence_app.photo.gap.measure import MOST_LEAN_DEG, measure_gap
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.practice.scenes.scenes import good_conditions, seam_scene
from tests.bench._figures import told
from tests.bench._photo_edges import AT_LIMIT_DEG, edge_rows, tuning_rows
from tests.bench._photo_gate import gate_rows
from tests.bench._photo_live import live_rows
from tests.bench._photo_mesh import mesh_rows
from tests.bench._photo_residue import residue_rows
from tests.bench._photo_slots import slot_rows, tuning_slot_rows
from tests.bench._photo_strips import strip_rows, tuning_strip_rows
from tests.photo.decoys import DECOYS, decoy
from tests.photo.drawn import SCORING_SEEDS, drawn_seam_scene, largest_mm, median_mm, random_seam
from tests.photo.truths import jpeg_of, truth_of

WIDTHS = (4000, 2000)

TARGETS = {4000: (0.008, 0.015, 0.020), 2000: (None, 0.020, None)}
_INK = (0.026, 0.08)  # reflectance of a pen's line


class Trial(Struct, frozen=True):
    """One photo. Errors are None when it was refused, for ``reason``."""

    width_mm: float
    lean_deg: float
    seconds: float
    reason: str | None = None
    error: float = 0.0
    largest_error: float = 0.0
    U: float = 0.0
    largest_U: float = 0.0


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench photo", description=__doc__)
    parser.add_argument(
        "part",
        nargs="*",
        metavar="PART",
        help=f"what to try, of {', '.join(_PARTS)}; without any, all of it",
    )
    parser.add_argument("--photos", type=int, default=24, help="scenes of each kind")
    parser.add_argument("--first", type=int, default=0, help="number of the first scoring seed")
    options = parser.parse_args(argv)
    if unknown := [part for part in options.part if part not in _PARTS]:
        parser.error(f"no part {unknown[0]!r}; choose from {', '.join(_PARTS)}")
    cv2.setNumThreads(1)
    # One core: idle threads of the linear algebra would be counted as processor time.
    with threadpool_limits(1):
        for part in options.part or _PARTS:
            _PARTS[part](options.photos, options.first)
    print("Rendered scenes are not evidence about real photos.")
    return 0


def seam_rows(photos: int, first: int) -> None:
    for pixels in WIDTHS:
        _warm_up(pixels)
        trials = []
        for seed in SCORING_SEEDS[first : first + photos]:
            trials.append(_seam(seed, pixels))
            _say(seed, trials[-1])
        _table(trials, pixels)
        _false_seams(max(1, photos // 4), first, pixels)


def false_rows(photos: int, first: int) -> None:
    for pixels in WIDTHS:
        _false_seams(photos, first, pixels)


def _warm_up(pixels: int) -> None:
    """A measurement whose time is not counted: the first in a process loads SciPy's solvers."""
    _seam(SCORING_SEEDS[-1], pixels)


def _conditions(seed: int, pixels: int):
    rng = np.random.default_rng([seed, 1, 8, 0])
    return good_conditions(rng, pixels, pixels * 3 // 4)


def _seam(seed: int, pixels: int) -> Trial:
    scene = drawn_seam_scene(seed, conditions=_conditions(seed, pixels))
    truth, data = truth_of(scene), jpeg_of(scene)
    begun = time.process_time()
    try:
        gap = measure_gap(intake.decode_luma(data))
    except CannotMeasure as refusal:
        return Trial(median_mm(truth), truth.lean_across_deg, time.process_time() - begun, refusal.reason)
    seconds = time.process_time() - begun
    span = gap.stations[0, 0] - 0.25, gap.stations[-1, 0] + 0.25
    return Trial(
        median_mm(truth),
        truth.lean_across_deg,
        seconds,
        error=gap.median_mm - median_mm(truth, *span),
        largest_error=gap.largest.width_mm - largest_mm(truth, *span),
        U=gap.budget.expanded(),
        largest_U=2 * gap.largest.u_mm,
    )


def _say(seed: int, trial: Trial) -> None:
    found = f"refused: {trial.reason}" if trial.reason else f"error {trial.error:+.4f}, U {trial.U:.4f}"
    print(
        f"  seed {seed}: {trial.width_mm:.3f} mm wide, leaning {trial.lean_deg:.1f} degrees: "
        f"{found} ({trial.seconds:.2f} s)",
        flush=True,
    )


def _table(trials: list[Trial], pixels: int) -> None:
    mean, tail, largest = TARGETS[pixels]
    print(
        f"\n{pixels * pixels * 3 // 4 / 1e6:.0f} megapixels, {len(trials)} photos of seams; "
        "errors and U in mm"
    )
    print(
        f"{'':26}{'photos':>7}{'answered':>9}{'mean |e|':>10}{'95 % |e|':>10}"
        f"{'95 % widest':>12}{'U covers':>9}{'widest':>8}{'median U':>10}"
    )
    for name, keep in _groups():
        _row(name, [trial for trial in trials if keep(trial)])
    wanted = [f"mean {mean}" if mean else "", f"95 % {tail}", f"widest {largest}" if largest else ""]
    print(
        "targets: " + ", ".join(w for w in wanted if w) + "; U covers 95 percent, median U "
        "0.035, 95 percent answered"
    )
    seconds = [trial.seconds for trial in trials]
    told("seconds-a-photo", np.median(seconds), "s", len(seconds))
    told("answered", sum(not t.reason for t in trials), "", len(trials))
    print(
        f"processor time of a photo: median {np.median(seconds):.2f} s, longest "
        f"{max(seconds):.2f} s (target 0.8)"
    )
    refused = Counter(trial.reason for trial in trials if trial.reason)
    print("refused: " + (", ".join(f"{n} {reason}" for reason, n in refused.items()) or "none"))


def _groups() -> list[tuple[str, Callable[[Trial], bool]]]:
    def good(t: Trial) -> bool:
        return abs(t.lean_deg) <= MOST_LEAN_DEG - AT_LIMIT_DEG

    groups = [("all within 10 degrees", good)]
    for low, high in ((0.04, 0.08), (0.08, 0.15), (0.15, 0.3), (0.3, 0.6), (0.6, 1.4)):
        groups.append(
            (
                f"  {low:g} to {high:g} mm wide",
                lambda t, low=low, high=high: good(t) and low <= t.width_mm < high,
            )
        )
    for low, high in ((0, 3), (3, 6), (6, 10)):
        groups.append(
            (
                f"  leaning {low} to {high} degrees",
                lambda t, low=low, high=high: good(t) and low <= abs(t.lean_deg) < high,
            )
        )
    groups.append(("beyond 10 degrees", lambda t: not good(t)))
    return groups


def _row(name: str, trials: list[Trial]) -> None:
    answered = [t for t in trials if t.reason is None]
    line = f"{name:26}{len(trials):7}"
    if trials:
        line += f"{100 * len(answered) / len(trials):8.0f}%"
    if answered:
        error, widest, u, widest_u = np.abs(
            [(t.error, t.largest_error, t.U, t.largest_U) for t in answered]
        ).T
        line += (
            f"{error.mean():10.4f}{np.quantile(error, 0.95):10.4f}"
            f"{np.quantile(widest, 0.95):12.4f}{100 * (error <= u).mean():8.0f}%"
            f"{100 * (widest <= widest_u).mean():7.0f}%{np.median(u):10.4f}"
        )
    print(line, flush=True)


def _false_seams(count: int, first: int, pixels: int) -> None:
    numbers = 0
    for name in DECOYS:
        for n in range(count):
            seed = SCORING_SEEDS[10_000 + first + n]
            rng = np.random.default_rng([seed, 1])
            seam = random_seam(rng)
            if name == "pen":
                seam = replace(seam, gap_light=float(rng.uniform(*_INK)))
            scene = seam_scene(seed, seam, _conditions(seed, pixels), paint=decoy(name))
            try:
                measure_gap(intake.decode_luma(jpeg_of(scene)))
            except CannotMeasure:
                continue
            numbers += 1
            print(f"a number on what is no seam: {name}, seed {seed}")
    told("widths-without-a-seam", numbers, f"of {count * len(DECOYS)}")
    print(f"widths given on {count * len(DECOYS)} photos without a seam: {numbers} (target 0)")


_PARTS: dict[str, Callable[[int, int], None]] = {
    "edges": edge_rows,
    "edges-tuning": tuning_rows,
    "seam": seam_rows,
    "false": false_rows,
    "mesh": mesh_rows,
    "strips": strip_rows,
    "strips-tuning": tuning_strip_rows,
    "slots": slot_rows,
    "slots-tuning": tuning_slot_rows,
    "residue": residue_rows,
    "live": live_rows,
    "gate": gate_rows,
}
