"""Real photographs: no card where there is none, no number where there is nothing to measure.

``python -m tests.bench real FOLDER...`` goes over every photograph in the folders and in what
scikit-image and scikit-learn ship. Each is looked at as it is (gate and card search), and again
with a rendered scale card laid into it, so that gap and mesh are sought on real texture. On
Debian, these packages ship photographs: opencv-doc (examples/data), gnome-backgrounds,
mate-backgrounds.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import cv2
import numpy as np

from evidence_app.photo import intake
from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.gap.measure import measure_gap
from evidence_app.photo.gate.judge import judge
from evidence_app.photo.mesh.measure import measure_mesh
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.practice.scenes.scenes import good_conditions, seam_scene
from evidence_app.practice.scenes.seam import Seam
from tests.bench._figures import told
from tests.photo.decoys import decoy
from tests.photo.truths import jpeg_of

_KINDS = {".jpg", ".jpeg", ".png", ".webp"}
_LEAST_SIDE = 120
_SIZE = (2000, 1500)


def photographs(folders: list[str]) -> list[Path]:
    import skimage
    import sklearn

    shipped = [Path(m.__file__).parent for m in (skimage, sklearn)]
    roots = [Path(folder) for folder in folders] + shipped
    found = {p.resolve() for root in roots for p in root.rglob("*") if p.suffix.lower() in _KINDS}
    return sorted(p for p in found if "/html/" not in str(p))


def _with_card(picture: np.ndarray, seed: int) -> bytes:
    """The photograph in 3 MP with a rendered card laid into it, as JPEG."""
    conditions = good_conditions(np.random.default_rng([seed, 9]), *_SIZE, 4.0)
    scene = seam_scene(seed, Seam(), conditions, paint=decoy("nothing"))
    outline = card_layout().outline
    x, y = outline.width / 2, outline.height / 2
    corners = np.array([(-x, -y, 0), (x, -y, 0), (x, y, 0), (-x, y, 0)], float)
    quad = scene.view.project(corners)
    mask = np.zeros(_SIZE[::-1], np.uint8)
    cv2.fillPoly(mask, [np.rint(quad).astype(np.int32)], 255)
    mask = cv2.GaussianBlur(mask, (0, 0), 0.8).astype(np.float32)[..., None] / 255
    card = cv2.imdecode(np.frombuffer(jpeg_of(scene), np.uint8), cv2.IMREAD_COLOR)
    ground = cv2.resize(picture, _SIZE, interpolation=cv2.INTER_AREA)
    both = card * mask + ground * (1 - mask)
    return cv2.imencode(".jpg", both.astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()


def main(argv: list[str]) -> int:
    said: dict[str, Counter] = {"as it is": Counter(), "gap": Counter(), "mesh": Counter()}
    wrong = count = 0
    for path in photographs(argv):
        picture = cv2.imread(str(path), cv2.IMREAD_COLOR)
        if picture is None or min(picture.shape[:2]) < _LEAST_SIDE:
            continue
        count += 1
        plain = cv2.imencode(".jpg", picture)[1].tobytes()
        judge(plain, wanted_scale_card=True)
        try:
            find_markers(intake.decode_luma(plain))
            said["as it is"]["card found"] += 1
            print(f"a card in {path.name}")
            wrong += 1
        except CannotMeasure as refusal:
            said["as it is"][refusal.reason] += 1
        luma = intake.decode_luma(_with_card(picture, count))
        for kind, measure in (("gap", measure_gap), ("mesh", measure_mesh)):
            try:
                measure(luma)
                said[kind]["number given"] += 1
                print(f"a {kind} in {path.name}")
                wrong += 1
            except CannotMeasure as refusal:
                said[kind][refusal.reason] += 1
    for kind, reasons in said.items():
        print(f"{kind:9}", ", ".join(f"{n} {reason}" for reason, n in reasons.most_common()))
    told("wrong", wrong, "", count)
    print(f"{count} photographs; cards or numbers where there are none: {wrong} (target 0)")
    return int(wrong > 0)
