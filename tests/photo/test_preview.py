"""Previews: their size, which way up they stand, and what gives none."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageDraw

from evidence_app.errors import PhotoError
from evidence_app.photo.preview import FEWEST, MOST, make_preview, read_preview


def jpeg(width: int, height: int, orientation: int = 1, mode: str = "RGB") -> bytes:
    """A picture whose left upper quarter is dark."""
    return _encoded("JPEG", width, height, orientation, mode)


def _encoded(form: str, width: int, height: int, orientation: int = 1, mode: str = "RGB") -> bytes:
    picture = Image.new(mode, (width, height), 200 if mode == "L" else (200, 200, 200))
    ImageDraw.Draw(picture).rectangle((0, 0, width // 2, height // 2), fill=20)
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = io.BytesIO()
    picture.save(file, form, exif=exif)
    return file.getvalue()


def decoded(preview) -> Image.Image:
    return Image.open(io.BytesIO(preview.jpeg))


@pytest.mark.parametrize(
    "size", [(4000, 3000), (3000, 4000), (4608, 2592), (3264, 2448), (2000, 300), (7800, 900)]
)
def test_long_side_of_a_large_photo_is_between_the_two_bounds(size):
    preview = make_preview(jpeg(*size), "photo")
    assert decoded(preview).size == (preview.width, preview.height)
    assert FEWEST <= max(preview.width, preview.height) <= MOST
    assert preview.width / preview.height == pytest.approx(size[0] / size[1], rel=0.01)


@pytest.mark.parametrize("kind", ["photo", "markup"])
def test_small_picture_keeps_its_size(kind):
    data = _encoded("JPEG" if kind == "photo" else "PNG", 300, 200)
    assert decoded(make_preview(data, kind)).size == (300, 200)


@pytest.mark.parametrize(
    ("orientation", "dark"), [(1, (0, 0)), (3, (1, 1)), (6, (1, 0)), (8, (0, 1)), (2, (1, 0))]
)
def test_preview_stands_upright(orientation, dark):
    """Exif orientation, CIPA DC-008: 6 is turned right, 8 left, 3 upside down, 2 mirrored."""
    picture = np.asarray(decoded(make_preview(jpeg(80, 60, orientation), "photo")))
    height, width = picture.shape[:2]
    found = {
        (x, y): int(picture[height * (1 + 2 * y) // 4, width * (1 + 2 * x) // 4].mean())
        for x in (0, 1)
        for y in (0, 1)
    }
    assert min(found, key=found.get) == dark


def test_grey_photo_has_a_preview():
    assert decoded(make_preview(jpeg(80, 60, mode="L"), "photo")).size == (80, 60)


@pytest.mark.parametrize("data", [b"", b"\xff\xd8\xff", b"no picture", jpeg(80, 60)[:300]])
def test_damaged_photo_has_none(data):
    with pytest.raises(PhotoError):
        make_preview(data, "photo")


def test_picture_of_too_many_pixels_is_not_decoded():
    header = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + (29_000).to_bytes(4, "big") * 2
    with pytest.raises(PhotoError, match="more pixels"):
        make_preview(header, "markup")


def test_kept_preview_is_read_as_it_was_made():
    made = make_preview(jpeg(80, 60, orientation=6), "photo")
    assert read_preview(made.jpeg) == made
