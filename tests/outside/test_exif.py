"""Exif of the photos that the app encodes, read by exiftool.

Source: CIPA DC-008-2019 / JEITA CP-3451E (Exif 2.32), section 4.6.5, tables 7 and 8: tags
DateTimeOriginal 0x9003, OffsetTimeOriginal 0x9011, SubSecTimeOriginal 0x9291 and
ImageUniqueID 0xA420. Reference reader: exiftool (Debian libimage-exiftool-perl), whose
validation also knows which tags and types the standard asks for.
"""

from __future__ import annotations

import json
import subprocess

import numpy as np
import pytest

from evidence_app.photo.encode import encode_jpeg
from evidence_app.practice.camera import photograph

WALL = "2026-03-02T08:15:30.123+01:00"
ID = "0123456789abcdef0123456789abcdef"
FRAME = np.full((64, 96, 3), 128, np.uint8)


def read(data: bytes, *options: str) -> dict:
    out = subprocess.run(
        ["exiftool", "-j", "-n", "-G1", "-a", *options, "-"], input=data, capture_output=True, check=True
    )
    return json.loads(out.stdout)[0]


@pytest.mark.parametrize(
    ("tag", "value"),
    [
        ("ExifIFD:DateTimeOriginal", "2026:03:02 08:15:30"),
        ("ExifIFD:OffsetTimeOriginal", "+01:00"),
        ("ExifIFD:SubSecTimeOriginal", 123),
        ("Composite:SubSecDateTimeOriginal", "2026:03:02 08:15:30.123+01:00"),
        ("ExifIFD:ImageUniqueID", ID),
        ("ExifIFD:ExifImageWidth", 96),
        ("ExifIFD:ExifImageHeight", 64),
        ("IFD0:Model", "bench camera"),
    ],
)
def test_exiftool_reads_what_was_written(tag, value):
    assert read(encode_jpeg(FRAME, WALL, ID, "bench camera"))[tag] == value


def test_utc_time_has_a_numeric_offset():
    read_back = read(encode_jpeg(FRAME, "2026-03-02T07:15:30Z", ID, "bench camera"))
    assert read_back["ExifIFD:OffsetTimeOriginal"] == "+00:00"


def test_exiftool_finds_nothing_to_object_to():
    assert read(encode_jpeg(FRAME, WALL, ID, "bench camera"), "-validate", "-warning")[
        "ExifTool:Validate"
    ] in ("OK", "0 0 0")


def test_practice_photo_has_its_time_too():
    shot = photograph("plate?megapixels=0.3", WALL)
    assert read(shot.data)["Composite:SubSecDateTimeOriginal"] == "2026:03:02 08:15:30.123+01:00"
