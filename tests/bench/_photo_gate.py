"""What the quality gate rejects of good and of spoilt photos; a part of ``photo``.

The kinds of scenes are those of ``gate``, whose table tells more of each.
"""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from evidence_app.photo.gate import judge as quality
from evidence_app.practice.scenes.scenes import good_conditions
from tests.bench._figures import key_of, told
from tests.bench.gate import scene_of_kind
from tests.photo.drawn import SCORING_SEEDS
from tests.photo.truths import jpeg_of

_SPOILT = {
    "blur 6 px": {"defocus_px": 6.0},
    "blur 9 px": {"defocus_px": 9.0},
    "motion 6 px": {"motion_px": 6.0},
    "motion 9 px": {"motion_px": 9.0},
}


def gate_rows(photos: int, first: int) -> None:
    print(
        f"\nQuality gate, 4000 x 3000, {photos} scenes of each kind; targets: good rejected at "
        "most 5 percent, spoilt rejected 100 percent"
    )
    for name, spoilt in {"good": {}, **_SPOILT}.items():
        rejected = sum(_rejected(seed, spoilt) for seed in SCORING_SEEDS[first : first + photos])
        told(f"{key_of(name)}-rejected", rejected, "", photos)
        print(
            f"{name:12} rejected {rejected} of {photos} ({100 * rejected / photos:.0f} percent)", flush=True
        )


def _rejected(seed: int, spoilt: dict[str, float]) -> bool:
    rng = np.random.default_rng([seed, 99])
    conditions = good_conditions(rng)
    angle = float(rng.uniform(0, 180))
    scene = scene_of_kind(seed, replace(conditions, motion_deg=angle, **spoilt))
    return not quality.judge(jpeg_of(scene)).passes
