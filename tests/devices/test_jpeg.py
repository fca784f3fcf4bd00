"""Whether a file is a whole JPEG: ITU-T T.81 annex B, seen from its bytes."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from evidence_app.devices.jpeg import Wholeness, wholeness

NOISE = np.random.default_rng(1).integers(0, 256, (48, 64, 3), np.uint8)


def encoded(*settings: int) -> bytes:
    return cv2.imencode(".jpg", NOISE, list(settings))[1].tobytes()


def with_thumbnail() -> bytes:
    """A photo whose Exif block holds a whole small JPEG, end marker included."""
    exif = Image.Exif()
    exif[0x927C] = encoded()
    file = io.BytesIO()
    Image.fromarray(NOISE).save(file, "JPEG", exif=exif)
    return file.getvalue()


PHOTOS = {
    "baseline": encoded(),
    "progressive": encoded(cv2.IMWRITE_JPEG_PROGRESSIVE, 1),
    "restart markers": encoded(cv2.IMWRITE_JPEG_RST_INTERVAL, 1),
    "thumbnail": with_thumbnail(),
}


@pytest.mark.parametrize("kind", PHOTOS)
def test_whole_photo_is_whole(kind):
    assert wholeness(PHOTOS[kind]) is Wholeness.WHOLE


@pytest.mark.parametrize("kind", PHOTOS)
def test_photo_cut_anywhere_is_partial(kind):
    photo = PHOTOS[kind]
    assert {wholeness(photo[:length]) for length in range(len(photo))} == {Wholeness.PARTIAL}


def test_data_behind_the_end_does_not_matter():
    assert wholeness(PHOTOS["baseline"] + b"\0" * 100) is Wholeness.WHOLE


def test_room_set_aside_and_not_yet_filled_is_partial():
    photo = PHOTOS["baseline"]
    assert wholeness(photo[:1500] + bytes(len(photo) - 1500)) is Wholeness.PARTIAL


@pytest.mark.parametrize(
    "data", [b"\x89PNG\r\n\x1a\n" + bytes(50), b"MZ", b"\xff\xd8hello", b"\xff\xd8\xff\xd9"]
)
def test_other_bytes_never_become_a_photo(data):
    assert wholeness(data) is Wholeness.OTHER


@given(st.binary(max_size=200))
def test_any_bytes_get_an_answer(data):
    assert wholeness(b"\xff\xd8" + data) in Wholeness
