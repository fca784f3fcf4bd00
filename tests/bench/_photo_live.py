"""The live look's processor time for a frame of 1280x720; a part of ``photo``."""

from __future__ import annotations

import time

import cv2
import numpy as np

from evidence_app.photo.gate.live import look
from evidence_app.practice.scenes.scenes import slot_scene
from tests.bench._figures import key_of, told
from tests.photo.drawn import SCORING_SEEDS, drawn_seam_scene

TARGET_MS = 25.0
_FRAME = (1280, 720)


def live_rows(photos: int, first: int) -> None:
    """Two scenes with the scale card in view, one without, and noise, the hardest to search."""
    print(f"\nLive look, frame of 1280x720, one thread; target {TARGET_MS:g} ms")
    seed = SCORING_SEEDS[first]
    pictures = {
        "seam with the card": lambda: drawn_seam_scene(seed).picture,
        "slot with the card": lambda: slot_scene(seed).picture,
        "seam without a card": lambda: drawn_seam_scene(seed, card=None).picture,
        "noise": lambda: np.random.default_rng(seed).integers(0, 256, (720, 1280, 3), np.uint8),
    }
    for name, make in pictures.items():
        frame = _framed(make())
        spent = []
        for _ in range(photos + 1):
            begun = time.process_time()
            look(frame)
            spent.append(1e3 * (time.process_time() - begun))
        median, longest = np.median(spent[1:]), max(spent[1:])  # the first warms up
        told(key_of(name), median, "ms")
        print(f"{name:22} median {median:5.1f} ms, longest {longest:5.1f} ms", flush=True)


def _framed(picture: np.ndarray) -> np.ndarray:
    """The middle of a picture in the frame's shape, scaled to it."""
    width, height = _FRAME
    rows = picture.shape[1] * height // width
    top = (picture.shape[0] - rows) // 2
    return cv2.resize(picture[top : top + rows], _FRAME, interpolation=cv2.INTER_AREA)
