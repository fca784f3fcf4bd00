"""Photos that cannot be taken: one sentence, status 2, and nothing recorded."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
from PIL import Image

from tests.commands.bench import good_photo


def saved(mode: str, form: str, size=(2000, 1500), **options) -> bytes:
    file = io.BytesIO()
    Image.new(mode, size).save(file, form, **options)
    return file.getvalue()


def thirty_thousand_wide() -> bytes:
    """A small file whose header says 30,000 by 30,000."""
    data = bytearray(saved("RGB", "JPEG", (64, 64)))
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", 30_000, 30_000)
    return bytes(data)


def sixteen_bit() -> bytes:
    file = io.BytesIO()
    Image.fromarray(np.full((1500, 2000), 40_000, np.uint16)).save(file, "PNG")
    return file.getvalue()


BAD = {
    "empty": lambda: b"",
    "truncated": lambda: good_photo()[:40_000],
    "not an image": lambda: b"These are words.\n" * 500,
    "a PNG named .jpg": lambda: saved("RGB", "PNG"),
    "CMYK": lambda: saved("CMYK", "JPEG"),
    "16 bit": sixteen_bit,
    "30,000 wide": thirty_thousand_wide,
}


@pytest.mark.parametrize("make", BAD.values(), ids=BAD.keys())
def test_a_bad_photo_is_refused_in_one_sentence(opened, tmp_path, make):
    (tmp_path / "bad.jpg").write_bytes(make())
    before = opened.does("job show job")
    said = opened.refuses("job photo job slot file:bad.jpg")
    assert "bad.jpg" in said and said.count("\n") == 1
    assert safe(opened.does("job show job")) == safe(before)


def test_a_photo_rotated_by_exif_is_taken_byte_for_byte(opened, tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6
    file = io.BytesIO()
    Image.open(io.BytesIO(good_photo())).save(file, "JPEG", exif=exif, quality=95)
    (tmp_path / "turned.jpg").write_bytes(file.getvalue())
    opened.does("job photo job slot file:turned.jpg")
    kept = [p.read_bytes() for p in (tmp_path / "job" / "originals").rglob("*.jpg")]
    assert kept == [file.getvalue()]


def safe(shown: str) -> str:
    """How many photos are safe, by `job show`."""
    return next(line.split(",")[1] for line in shown.splitlines() if line.startswith("safe:"))
