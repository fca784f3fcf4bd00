"""What is taken as a photo, and what is refused with one sentence."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from evidence_app.errors import PhotoError
from evidence_app.photo.intake import decode, decode_luma, read_header


def marked(width: int = 96, height: int = 64) -> Image.Image:
    """Grey with a white corner at the top left."""
    picture = Image.new("RGB", (width, height), (90, 90, 90))
    picture.paste((255, 255, 255), (0, 0, width // 4, height // 4))
    return picture


def saved(picture: Image.Image, kind: str = "JPEG", **options) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


JPEG = saved(marked(), quality=90)


def with_frame(precision: int = 8, marker: int = 0xC0, height: int = 64, width: int = 96) -> bytes:
    """JPEG with its frame header (T.81 B.2.2) changed."""
    at = JPEG.index(b"\xff\xc0")
    frame = bytes((0xFF, marker)) + JPEG[at + 2 : at + 4] + bytes((precision,))
    frame += height.to_bytes(2, "big") + width.to_bytes(2, "big")
    return JPEG[:at] + frame + JPEG[at + len(frame) :]


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(JPEG, id="baseline"),
        pytest.param(saved(marked(), progressive=True), id="progressive"),
        pytest.param(saved(marked().convert("L")), id="grey"),
        pytest.param(JPEG + b"\0" * 4096, id="padded"),
        pytest.param(JPEG + JPEG, id="second-picture-after-it"),
        pytest.param(saved(marked(), "MPO", save_all=True, append_images=[marked()]), id="mpo"),
    ],
)
def test_sound_photo_is_taken(data):
    header = read_header(data)
    assert (header.width, header.height, header.orientation) == (96, 64, 1)
    assert decode(data).shape == (64, 96, 3)


REFUSED = {
    "empty": (b"", "empty"),
    "words": (b"this is no photo", "not a JPEG"),
    "png": (saved(marked(), "PNG"), "PNG"),
    "png-16-bit": (saved(Image.fromarray(np.zeros((8, 8), np.uint16)), "PNG"), "PNG"),
    "tiff": (saved(marked(), "TIFF"), "TIFF"),
    "gif": (saved(marked(), "GIF"), "GIF"),
    "webp": (saved(marked(), "WEBP"), "WebP"),
    "bmp": (saved(marked(), "BMP"), "BMP"),
    "heif": (b"\0\0\0\x18ftypheic" + b"\0" * 64, "HEIF"),
    "cmyk": (saved(marked().convert("CMYK")), "CMYK"),
    "12-bit": (with_frame(precision=12), "12 bits"),
    "16-bit": (with_frame(precision=16, marker=0xC3), "16 bits"),
    "lossless": (with_frame(marker=0xC3), "lossless"),
    "arithmetic": (with_frame(marker=0xC9), "arithmetic"),
    "too-wide": (with_frame(width=30_000), "30,000 x 64"),
    "bomb": (with_frame(width=29_000, height=29_000), "29,000 x 29,000"),
    "no-size": (with_frame(height=0), "no picture size"),
    "one-byte": (b"\xff", "cut off"),
    "header-only": (JPEG[:30], "cut off"),
    "half-of-the-picture": (JPEG[:-40], "cut off"),
    "no-end-marker": (JPEG[:-2], "cut off"),
    "half-then-zeros": (JPEG[:-40] + b"\0" * 999, "cut off"),
    "damaged-header": (JPEG[:2] + b"\xff\xe0\0\1" + JPEG[20:], "damaged"),
}


@pytest.mark.parametrize(("data", "words"), REFUSED.values(), ids=REFUSED.keys())
def test_refused_in_one_sentence(data, words):
    with pytest.raises(PhotoError) as refusal:
        read_header(data, where="IMG_0007.jpg")
    sentence = refusal.value.sentence()
    assert sentence.startswith("IMG_0007.jpg: ")
    assert words in sentence
    assert "\n" not in sentence
    assert refusal.value.remedy


def test_decode_refuses_what_read_header_refuses():
    with pytest.raises(PhotoError, match="30,000"):
        decode(REFUSED["too-wide"][0], 8)


def test_thumbnail_does_not_hide_a_cut():
    exif = Image.Exif()
    exif[0x927C] = saved(marked(32, 32))  # a whole small JPEG inside the header
    whole = saved(marked(), exif=exif)
    read_header(whole)
    with pytest.raises(PhotoError, match="cut off"):
        read_header(whole[:-40])


@pytest.mark.parametrize("orientation", range(1, 9))
def test_photo_is_turned_upright(orientation):
    """The stored picture is made so that undoing the Exif orientation gives the marked one."""
    upright = cv2.cvtColor(np.array(marked()), cv2.COLOR_RGB2BGR)
    stored = {
        1: upright,
        2: upright[:, ::-1],
        3: upright[::-1, ::-1],
        4: upright[::-1],
        5: upright.transpose(1, 0, 2),
        6: np.rot90(upright),
        7: np.rot90(upright, 2).transpose(1, 0, 2),
        8: np.rot90(upright, 3),
    }[orientation]
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = saved(Image.fromarray(np.ascontiguousarray(stored[..., ::-1])), quality=95, exif=exif)
    header = read_header(data)
    assert (header.width, header.height, header.orientation) == (96, 64, orientation)
    assert np.abs(decode(data).astype(int) - upright).mean() < 3


@pytest.mark.parametrize("scale", [1, 2, 4, 8])
def test_scale_rounds_sizes_up(scale):
    data = saved(marked(101, 67))
    assert decode(data, scale).shape == (-(-67 // scale), -(-101 // scale), 3)


def test_luma_is_as_stored():
    exif = Image.Exif()
    exif[0x0112] = 6
    assert decode_luma(saved(marked(), exif=exif)).shape == (64, 96)


def time_taken(date, fraction=None, offset=None):
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    for tag, value in ((0x9003, date), (0x9291, fraction), (0x9011, offset)):
        if value is not None:
            details[tag] = value
    return read_header(saved(marked(), exif=exif)).taken


@pytest.mark.parametrize(
    ("given_", "taken"),
    [
        (("2026:03:02 08:15:30", "123", "+01:00"), "2026-03-02T08:15:30.123+01:00"),
        (("2026:03:02 08:15:30", None, None), "2026-03-02T08:15:30"),
        (("2026:03:02 08:15:30", "  ", "here"), "2026-03-02T08:15:30"),
        (("    :  :     :  :  ",), None),
        ((None, "5"), None),
    ],
)
def test_time_taken_is_read(given_, taken):
    assert time_taken(*given_) == taken


@settings(max_examples=150, deadline=None)
@given(at=st.integers(0, len(JPEG) - 1), value=st.integers(0, 255), cut=st.integers(0, len(JPEG)))
def test_damage_never_gives_another_error(at, value, cut):
    damaged = (JPEG[:at] + bytes((value,)) + JPEG[at + 1 :])[:cut]
    try:
        picture = decode(damaged, 1)
    except PhotoError:
        return
    assert picture.dtype == np.uint8
