"""One call: bytes in, plain values and a drawing out, never an exception."""

from __future__ import annotations

import io
import json

import cv2
import numpy as np
import pytest
from PIL import Image

from evidence_app.language import reworded, say, speaking
from evidence_app.photo.measure import measure
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import Measurement, PhotoWanted
from tests.photo.truths import jpeg_of

WITHIN = "seam?gap_mm=0.12&seed=38"


def jpeg(picture: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", picture)[1].tobytes()


def as_pil(scene, written: str) -> Image.Image:
    return Image.open(io.BytesIO(jpeg_of(scene(written))))


def saved(picture: Image.Image, **options) -> bytes:
    out = io.BytesIO()
    picture.save(out, **options)
    return out.getvalue()


@pytest.mark.parametrize(
    ("written", "verdict"),
    [
        (WITHIN, "within"),
        ("seam?gap_mm=0.19&seed=79", "inconclusive"),
        ("seam?gap_mm=0.30&seed=80", "outside"),
    ],
)
def test_conformity_with_the_limit_of_the_step_list(scene, gap_wanted, written, verdict):
    result, _ = measure(jpeg_of(scene(written)), gap_wanted(at_most=0.2))
    assert result["conformity"] == verdict


def test_a_result_is_plain_json_with_its_budget(scene, gap_wanted):
    result, _ = measure(jpeg_of(scene(WITHIN)), gap_wanted(at_most=0.2))
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert result["U"] == pytest.approx(
        2 * np.sqrt(sum(line["u_mm"] ** 2 for line in result["budget"])), abs=2e-4
    )


def test_an_unconfirmed_card_is_said(scene, gap_wanted):
    result, _ = measure(jpeg_of(scene(WITHIN)), gap_wanted(at_most=0.2))
    assert any("not confirmed" in reason for reason in result["reasons"])


def test_method_and_notes_are_said_in_german(scene, gap_wanted):
    result, _ = measure(jpeg_of(scene(WITHIN)), gap_wanted(at_most=0.2))
    notes = zip(result["reasons"], result["reasons_wording"], strict=True)
    with speaking("de"):
        told = [say(result["method"]), *(reworded({"sentence": n, "wording": w}) for n, w in notes)]
    assert told[0].startswith("Breite an Profile quer zur Fuge")
    assert told[1].startswith("Der Druckmaßstab der Karte wurde nicht")
    assert told[-1].startswith("Sicherheitsband 1.65 u. Eine Höhenstufe")


def test_the_lower_limit_is_judged_by_the_narrowest_place(scene, gap_wanted):
    written = "seam?gap_mm=0.30&seed=931&taper_mm=0.16"
    result, _ = measure(jpeg_of(scene(written)), gap_wanted(at_least=0.28))
    assert result["value"] > 0.28
    assert result["conformity"] == "outside"


def test_the_drawing_is_a_png_and_the_same_each_time(scene, gap_wanted):
    first, again = (measure(jpeg_of(scene(WITHIN)), gap_wanted(at_most=0.2))[1] for _ in range(2))
    assert Image.open(io.BytesIO(first)).format == "PNG"
    assert first == again


def test_a_grey_photo_is_measured(scene, gap_wanted):
    data = saved(as_pil(scene, WITHIN).convert("L"), format="JPEG", quality=95)
    assert measure(data, gap_wanted(at_most=0.2))[0]["conformity"] == "within"


@pytest.mark.parametrize("orientation", [2, 3, 6, 7])
def test_a_photo_turned_by_exif_is_measured(scene, gap_wanted, orientation):
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
    }[orientation]
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = saved(as_pil(scene, WITHIN).transpose(undo), format="JPEG", quality=95, exif=exif)
    plain = measure(jpeg_of(scene(WITHIN)), gap_wanted(at_most=0.2))[0]
    turned = measure(data, gap_wanted(at_most=0.2))[0]
    assert turned["value"] == pytest.approx(plain["value"], abs=0.004)


@pytest.mark.parametrize(
    "name",
    [
        "empty",
        "text",
        "png",
        "cmyk",
        "16 bit",
        "cut short",
        "black",
        "white",
        "noise",
        "one pixel",
        "no card",
    ],
)
def test_bad_input_is_refused_with_a_sentence(scene, gap_wanted, name):
    photo = as_pil(scene, WITHIN)
    data = {
        "empty": lambda: b"",
        "text": lambda: b"not a photo",
        "png": lambda: saved(photo.resize((400, 300)), format="PNG"),
        "cmyk": lambda: saved(photo.convert("CMYK"), format="JPEG"),
        "16 bit": lambda: saved(Image.fromarray(np.zeros((60, 80), np.uint16)), format="TIFF"),
        "cut short": lambda: jpeg_of(scene(WITHIN))[:20_000],
        "black": lambda: jpeg(np.zeros((1500, 2000), np.uint8)),
        "white": lambda: jpeg(np.full((1500, 2000), 255, np.uint8)),
        "noise": lambda: jpeg(np.random.default_rng(1).integers(0, 256, (1500, 2000), np.uint8)),
        "one pixel": lambda: jpeg(np.zeros((1, 1), np.uint8)),
        "no card": lambda: jpeg_of(scene("front?seed=31")),
    }[name]()
    result, drawing = measure(data, gap_wanted(at_most=0.2))
    assert result["conformity"] == "refused"
    assert result["value"] is None
    assert drawing is None
    assert result["sentence"].endswith(".")


def test_another_unit_is_refused(scene):
    wanted = PhotoWanted("seam", "x", True, Measurement(MeasurementKind.GAP, "inch", None, 0.01))
    assert measure(jpeg_of(scene(WITHIN)), wanted)[0]["reasons"] == ["unit"]


@pytest.mark.parametrize("kind", MeasurementKind)
def test_every_kind_of_a_step_list_is_measured(scene, kind):
    limit = 0.2 if kind.rules.limited else None
    asked = Measurement(kind, kind.rules.unit, None, limit)
    photo = jpeg_of(scene(WITHIN))
    result, _ = measure(photo, PhotoWanted("seam", "x", True, asked), reference=photo, second=photo)
    assert (result["kind"], result["unit"]) == (kind.value, kind.rules.unit)
    assert result["reasons"] != ["numbers"]
