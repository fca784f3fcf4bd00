"""A camera's frame as a JPEG with its own time and identity."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.encode import encode_jpeg
from evidence_app.photo.intake import decode, read_header

FRAME = cv2.GaussianBlur(np.random.default_rng(1).integers(0, 256, (96, 128, 3), dtype=np.uint8), (0, 0), 3)
WALL = "2026-03-02T08:15:30.123+01:00"
ID = "0123456789abcdef0123456789abcdef"


def test_pixels_are_those_of_the_plain_encoder():
    ours = decode(encode_jpeg(FRAME, WALL, ID, "camera 0"))
    plain = cv2.imdecode(cv2.imencode(".jpg", FRAME, [cv2.IMWRITE_JPEG_QUALITY, 95])[1], cv2.IMREAD_COLOR)
    assert np.array_equal(ours, plain)


def test_intake_reads_the_time_back():
    assert read_header(encode_jpeg(FRAME, WALL, ID, "camera 0")).taken == WALL


def test_same_frame_and_time_give_the_same_bytes():
    assert encode_jpeg(FRAME, WALL, ID, "camera 0") == encode_jpeg(FRAME, WALL, ID, "camera 0")


def test_exif_stands_directly_after_the_start():
    assert encode_jpeg(FRAME, WALL, ID, "camera 0")[:4] == b"\xff\xd8\xff\xe1"


def test_name_that_is_not_ascii_is_kept_readable():
    assert b"Mikroskop ?" in encode_jpeg(FRAME, WALL, ID, "Mikroskop ß")


@pytest.mark.parametrize("wall", ["2026-03-02", "2026-03-02T08:15:30", "yesterday"])
def test_time_without_offset_is_refused(wall):
    with pytest.raises(ValueError, match="RFC 3339"):
        encode_jpeg(FRAME, wall, ID, "camera 0")


def test_id_of_another_length_is_refused():
    with pytest.raises(ValueError, match="32 hexadecimal"):
        encode_jpeg(FRAME, WALL, ID[:-1], "camera 0")
