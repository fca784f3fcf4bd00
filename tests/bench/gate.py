"""The quality gate: what it costs, and how often it is right.

    python -m tests.bench gate [--scenes N] [--no-photographs]

Cost: the whole gate on a 12 megapixel JPEG against decoding the same JPEG in colour at one
quarter of its size (OpenCV's IMREAD_REDUCED_COLOR_4, which is libjpeg-turbo's scaled decoding;
Pillow's draft mode is shown beside it), one thread, processor time, alternating, median of the
ratios. Target: at most 1.5.

Rates: practice scenes of the scoring seeds at 4000 pixels, photographed well and spoilt by a
blur or shake of 6 pixels. Targets: all spoilt ones refused, at most 5 percent of the good ones.
Photographs that ship in scikit-image and scikit-learn, as they are and spoilt, one line each.
"""

from __future__ import annotations

import argparse
import io
import statistics
import time
from collections.abc import Callable, Iterator

import cv2
import numpy as np
from msgspec.structs import replace
from PIL import Image
from rich.console import Console
from rich.progress import track
from rich.table import Table

from evidence_app.photo.gate import judge as quality
from evidence_app.practice.optics import Conditions, disc, streak
from evidence_app.practice.scenes.device import VIEWS
from evidence_app.practice.scenes.scenes import Scene, device_scene, good_conditions, slot_scene
from evidence_app.practice.scenes.slot import Spot, random_slot, random_spots
from tests.bench._figures import compared, key_of, told
from tests.photo.drawn import SCORING_SEEDS, drawn_mesh_scene, drawn_seam_scene
from tests.photo.truths import jpeg_of

console = Console()


def slot_pair(
    seed: int, count: int, width: int = 4000, height: int = 3000, **spot_ranges
) -> tuple[Scene, Scene]:
    """The clean reference of a slot and a later photo of it with ``count`` spots;
    ``spot_ranges`` as for random_spots."""
    slot = random_slot(np.random.default_rng([seed, 3]))
    spots = random_spots(np.random.default_rng([seed, 5]), slot, count, **spot_ranges)

    def photo(take: int, spots: tuple[Spot, ...]) -> Scene:
        rng = np.random.default_rng([seed, 7, take])
        return slot_scene(seed, spots, take, slot, good_conditions(rng, width, height, 6.0))

    return photo(0, ()), photo(1, spots)


def main(argv: list[str]) -> int:
    options = argparse.ArgumentParser(prog="python -m tests.bench gate")
    options.add_argument("--scenes", type=int, default=24, help="good scenes to judge (default 24)")
    options.add_argument("--no-photographs", action="store_true")
    chosen = options.parse_args(argv)
    cv2.setNumThreads(1)
    _cost()
    _rates(chosen.scenes)
    if not chosen.no_photographs:
        _photographs()
    return 0


def _cost() -> None:
    table = Table(
        "12 megapixel JPEG",
        "bytes",
        "quarter decode ms",
        "gate ms",
        "ratio",
        "ratio with card wanted",
        "ratio to Pillow's",
        title="Cost of the whole gate, one thread",
    )
    scene = drawn_seam_scene(SCORING_SEEDS[0], conditions=Conditions())
    grained = scene.picture.astype(np.int16) + np.random.default_rng(1).normal(
        0, 6, scene.picture.shape
    ).astype(np.int16)
    for name, picture, level in (
        ("smooth, quality 85", scene.picture, 85),
        ("as a camera saves it, quality 93", scene.picture, 93),
        ("grainy, quality 95", np.clip(grained, 0, 255).astype(np.uint8), 95),
    ):
        data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, level])[1].tobytes()
        buffer = np.frombuffer(data, np.uint8)
        quarter, gate, card, pillow = _alternate(
            lambda buffer=buffer: cv2.imdecode(buffer, cv2.IMREAD_REDUCED_COLOR_4),
            lambda data=data: quality.judge(data),
            lambda data=data: quality.judge(data, wanted_scale_card=True),
            lambda data=data: _pillow_quarter(data),
        )
        ratio = statistics.median(g / q for g, q in zip(gate, quarter, strict=True))
        with_card = statistics.median(c / q for c, q in zip(card, quarter, strict=True))
        kind = key_of(name.partition(",")[0])
        compared(f"{kind}-ratio", gate, quarter)
        compared(f"{kind}-ratio-with-card", card, quarter)
        beside = statistics.median(g / p for g, p in zip(gate, pillow, strict=True))
        table.add_row(
            name,
            f"{len(data):,}",
            f"{statistics.median(quarter) * 1e3:.1f}",
            f"{statistics.median(gate) * 1e3:.1f}",
            f"{ratio:.2f}",
            f"{with_card:.2f}",
            f"{beside:.2f}",
        )
    console.print(table)


def _pillow_quarter(data: bytes) -> None:
    with Image.open(io.BytesIO(data)) as picture:
        picture.draft("RGB", (picture.width // 4, picture.height // 4))
        picture.load()


def _alternate(*works: Callable[[], object], rounds: int = 15) -> list[list[float]]:
    """Processor seconds of each of ``works``, taken in turn."""
    spent: list[list[float]] = [[] for _ in works]
    for _ in range(rounds + 1):
        for taken, work in zip(spent, works, strict=True):
            start = time.process_time()
            work()
            taken.append(time.process_time() - start)
    return [taken[1:] for taken in spent]  # the first round warms up


def _rates(count: int) -> None:
    kinds = {
        "good": {},
        "defocus 6 px": {"defocus_px": 6.0},
        "shake 6 px": {"motion_px": 6.0},
        "shake 9 px": {"motion_px": 9.0},
    }
    refused = dict.fromkeys(kinds, 0)
    values: dict[str, list[tuple[float, float]]] = {kind: [] for kind in kinds}
    for seed in track(SCORING_SEEDS[1 : count + 1], "judging scenes"):
        rng = np.random.default_rng([seed, 99])
        conditions = good_conditions(rng)
        angle = float(rng.uniform(0, 180))
        for kind, spoilt in kinds.items():
            scene = scene_of_kind(seed, replace(conditions, motion_deg=angle, **spoilt))
            # Seams, meshes and slots have the card beside them, whole devices have none.
            judgement = quality.judge(jpeg_of(scene), wanted_scale_card=seed % 8 < 6)
            refused[kind] += not judgement.passes
            checks = {check.name: check for check in judgement.checks}
            focus, motion = checks["focus"], checks["motion"]
            values[kind].append((focus.value / focus.limit, motion.value / motion.limit))
    table = Table(
        "practice scenes",
        "judged",
        "refused",
        "edge rise to its limit",
        "smear to its limit",
        title="Scoring seeds, 4000 x 3000",
    )
    for kind, found in values.items():
        told(f"refused-{key_of(kind)}", refused[kind] / len(found), "", len(found))
        rise, smear = zip(*found, strict=True)
        table.add_row(
            kind,
            str(len(found)),
            f"{refused[kind]} ({refused[kind] / len(found):.0%})",
            f"{min(rise):.2f} to {max(rise):.2f}",
            f"{min(smear):.2f} to {max(smear):.2f}",
        )
    console.print(table)
    console.print("Rendered scenes are not evidence about real photos.")


def scene_of_kind(seed: int, conditions: Conditions) -> Scene:
    """Seams, meshes, slots with residue and whole devices in turn."""
    kind = seed % 8
    if kind < 3:
        return drawn_seam_scene(seed, conditions=conditions)
    if kind == 3:
        return drawn_mesh_scene(seed, conditions=conditions)
    if kind < 6:
        slot, spots, _ = slot_pair(seed, 3, width=320, height=240)[1].painted
        return slot_scene(seed, spots, 1, slot, conditions)
    view = list(VIEWS)[seed // 8 % len(VIEWS)]
    return device_scene(view, seed, conditions)


def _photographs() -> None:
    table = Table(
        "photograph",
        "as it is",
        "defocus 6 px",
        "shake 6 px at 0, 35, 90 degrees",
        title="Focus or motion refused (X), edge rise px",
    )
    for name, picture in _real():
        cells = []
        for spoilt in (
            [picture],
            [cv2.filter2D(picture, -1, disc(6))],
            [cv2.filter2D(picture, -1, streak(6, angle)) for angle in (0, 35, 90)],
        ):
            marks = []
            for one in spoilt:
                data = cv2.imencode(".jpg", one, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
                checks = {check.name: check for check in quality.judge(data).checks}
                holds = checks["focus"].holds and checks["motion"].holds
                marks.append(f"{checks['focus'].value:.1f}{'' if holds else ' X'}")
            cells.append(", ".join(marks))
        table.add_row(name, *cells)
    console.print(table)


def _real() -> Iterator[tuple[str, np.ndarray]]:
    import skimage.data
    from sklearn.datasets import load_sample_image

    for name in (
        "astronaut",
        "camera",
        "coffee",
        "chelsea",
        "rocket",
        "coins",
        "retina",
        "immunohistochemistry",
        "stereo_motorcycle",
        "brick",
        "grass",
        "gravel",
        "page",
        "text",
        "china.jpg",
        "flower.jpg",
    ):
        picture = load_sample_image(name) if name.endswith(".jpg") else getattr(skimage.data, name)()
        picture = picture[0] if isinstance(picture, tuple) else picture
        if picture.ndim == 2:
            picture = cv2.cvtColor(picture, cv2.COLOR_GRAY2RGB)
        yield name, np.ascontiguousarray(picture[..., 2::-1])
