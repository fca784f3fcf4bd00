"""Strips in their openings on rendered photos against their truth; a part of ``photo``.

12 megapixels, tilted up to 4 degrees, scoring seeds only; each photo measured with its recess
unknown and, as where the step list says how deep the strip lies, with it known.
"""

from __future__ import annotations

import time
from collections import Counter

import numpy as np
from msgspec import Struct

from evidence_app.photo import intake
from evidence_app.photo.mesh.measure import USUAL_RECESS, Recess, known_recess, measure_mesh
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.steplist.model import USUAL_RECESS_TOLERANCE
from tests.bench._figures import key_of, told
from tests.photo.drawn import SCORING_SEEDS, drawn_mesh_scene
from tests.photo.truths import jpeg_of, truth_of

TARGETS = {"along": 0.04, "across": 0.02, "rotation": 0.1}
_CLEARANCES = ("start", "end", "near", "far")


class Trial(Struct, frozen=True):
    """One photo; ``error`` and ``U`` by value, empty when it was refused for ``reason``."""

    seconds: float
    reason: str | None
    error: dict[str, float]
    U: dict[str, float]


def mesh_rows(photos: int, first: int) -> None:
    unknown, known = [], []
    for seed in SCORING_SEEDS[first : first + photos]:
        scene = drawn_mesh_scene(seed)
        data = jpeg_of(scene)
        # A depot knows the depth by its drawing, not exactly.
        off = float(np.random.default_rng([seed, 5]).uniform(-1, 1)) * USUAL_RECESS_TOLERANCE
        depth = known_recess(truth_of(scene).mesh.recess_mm + off, USUAL_RECESS_TOLERANCE)
        for trials, recess in ((unknown, USUAL_RECESS), (known, depth)):
            trials.append(_trial(truth_of(scene), data, recess))
            if trials[-1].reason:
                print(f"  seed {seed} refused: {trials[-1].reason}", flush=True)
    for said, trials in (("unknown", unknown), (f"known to {USUAL_RECESS_TOLERANCE:g} mm", known)):
        print(f"\nMesh, 12 megapixels, {photos} photos, recess {said}; errors and U in mm and degrees")
        _table(trials, said.partition(" ")[0])


def _table(trials: list[Trial], known: str) -> None:
    answered = [trial for trial in trials if trial.reason is None]
    print(
        f"answered {len(answered)} of {len(trials)} ({100 * len(answered) / len(trials):.0f} "
        "percent; target 95)"
    )
    told(f"{known}-answered", len(answered), "", len(trials))
    refused = Counter(trial.reason for trial in trials if trial.reason)
    print("refused: " + (", ".join(f"{n} {reason}" for reason, n in refused.items()) or "none"))
    if answered:
        print(f"{'':12}{'mean |e|':>10}{'95 % |e|':>10}{'target':>8}{'U covers':>12}{'median U':>10}")
        for name in (*TARGETS, *_CLEARANCES):
            _row(name, answered, known)
    seconds = [trial.seconds for trial in trials]
    print(
        f"processor time of a photo: median {np.median(seconds):.2f} s, longest {max(seconds):.2f} s",
        flush=True,
    )


def _trial(truth, data: bytes, recess: Recess) -> Trial:
    wanted = {
        "along": truth.offset_along_mm,
        "across": truth.offset_across_mm,
        "rotation": truth.rotation_deg,
        **truth.clearance_mm,
    }
    begun = time.process_time()
    try:
        mesh = measure_mesh(intake.decode_luma(data), None, recess)
    except CannotMeasure as refusal:
        return Trial(time.process_time() - begun, refusal.reason, {}, {})
    return Trial(
        time.process_time() - begun,
        None,
        {name: abs(mesh.values[name] - value) for name, value in wanted.items()},
        {name: mesh.budgets[name].expanded() for name in wanted},
    )


def _row(name: str, trials: list[Trial], known: str) -> None:
    error = np.array([trial.error[name] for trial in trials])
    u = np.array([trial.U[name] for trial in trials])
    covered = f"{(error <= u).sum()} of {len(error)}"
    told(f"{known}-{key_of(name)}-within", np.quantile(error, 0.95), "", len(error))
    print(
        f"{name:12}{error.mean():10.4f}{np.quantile(error, 0.95):10.4f}"
        f"{TARGETS.get(name, ''):>8}{covered:>12}{np.median(u):10.4f}",
        flush=True,
    )
