"""Practice photos of about 3 megapixels, rendered once for all tests that ask for the same."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
import pytest

from evidence_app.practice.scenes.named import scene_of
from evidence_app.practice.scenes.scenes import Scene
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import Measurement, PhotoWanted
from tests.photo.truths import jpeg_of

# Rendered pictures kept at a time: tests that share one stand together, and 40 MB are one.
_KEPT = 6


@lru_cache(maxsize=_KEPT)
def scene(written: str) -> Scene:
    return scene_of(written)


@lru_cache(maxsize=_KEPT)
def luma(written: str) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(jpeg_of(scene(written)), np.uint8), cv2.IMREAD_GRAYSCALE)


@pytest.fixture(name="scene")
def scene_fixture():
    return scene


@pytest.fixture(name="luma")
def luma_fixture():
    return luma


@pytest.fixture
def gap_wanted():
    def make(at_least: float | None = None, at_most: float | None = None) -> PhotoWanted:
        asked = Measurement(MeasurementKind.GAP, "mm", at_least, at_most)
        return PhotoWanted("seam", "The seam", True, asked)

    return make
