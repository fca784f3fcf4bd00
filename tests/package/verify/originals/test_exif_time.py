"""The time inside a photo, as written by the app, by others, and by nobody sound."""

from __future__ import annotations

import io
import random

import pytest
from PIL import Image

from evidence_app.package.verify.originals.exif_time import HEAD_BYTES, time_taken
from tests.making import START, photo


def saved(**tags) -> bytes:
    """A JPEG whose Exif another library wrote."""
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({int(tag[1:], 16): value for tag, value in tags.items()})
    file = io.BytesIO()
    Image.new("RGB", (16, 16)).save(file, "JPEG", exif=exif)
    return file.getvalue()


def test_time_that_the_app_wrote():
    assert time_taken(photo(1)).isoformat(timespec="milliseconds") == START


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({"x9003": "2026:03:02 08:15:30"}, "2026-03-02T08:15:30"),
        ({"x9003": "2026:03:02 08:15:30", "x9011": "-05:00"}, "2026-03-02T08:15:30-05:00"),
        ({"x9003": "2026:03:02 08:15:30", "x9291": "5"}, "2026-03-02T08:15:30.500000"),
    ],
)
def test_time_that_others_wrote(tags, expected):
    assert time_taken(saved(**tags)).isoformat() == expected


@pytest.mark.parametrize("taken", ["2026:02:30 08:15:30", "2026-03-02 08:15:30", "    :  :   ", ""])
def test_time_that_cannot_be_read_is_none(taken):
    assert time_taken(saved(x9003=taken)) is None


def test_photo_without_exif_has_no_time():
    file = io.BytesIO()
    Image.new("RGB", (16, 16)).save(file, "JPEG")
    assert time_taken(file.getvalue()) is None


def test_noise_never_breaks_it():
    source = random.Random(7)
    data = photo(1)[:HEAD_BYTES]
    for _ in range(3000):
        changed = bytearray(data)
        for _ in range(source.randint(1, 8)):
            changed[source.randrange(2, 700)] = source.randrange(256)
        time_taken(bytes(changed[: source.randrange(2, 900)]))
