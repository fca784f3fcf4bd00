"""Residue: what is found and what is refused, on scenes of the practice room."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.pose import fit_pose
from evidence_app.photo.measure import measure
from evidence_app.photo.residue.register import fit_field
from evidence_app.photo.residue.view import see
from evidence_app.practice.scenes.named import scene_of
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import Measurement, PhotoWanted
from tests.photo.truths import area_mm2, jpeg_of

REFERENCE = "slot?seed=500001&stage=before"
AFTER = "slot?seed=500001&stage=after"


def asked(unit: str = "mm2") -> PhotoWanted:
    return PhotoWanted("slot", "The slot", True, Measurement(MeasurementKind.RESIDUE, unit))


@pytest.mark.parametrize(
    ("reference", "second", "unit", "reason"),
    [(None, None, "mm2", "reference"), (b"any", None, "mm2", "second"), (b"any", b"any", "mm", "unit")],
)
def test_what_is_missing_is_named(reference, second, unit, reason):
    result, drawing = measure(b"any", asked(unit), reference, second=second)
    assert (result["conformity"], result["reasons"], drawing) == ("refused", [reason], None)


def test_what_is_no_photo_is_refused(scene):
    photo = jpeg_of(scene(REFERENCE))
    result, _ = measure(photo, asked(), b"no photo", second=photo)
    assert (result["conformity"], result["value"]) == ("refused", None)


def test_a_photo_without_the_card_is_refused(scene):
    photo = jpeg_of(scene(REFERENCE))
    bare = jpeg_of(scene("slot?seed=500001&card=0"))
    result, _ = measure(bare, asked(), photo, second=photo)
    assert result["conformity"] == "refused"
    assert result["sentence"].startswith("The photo:")


@pytest.mark.parametrize("orientation", [2, 4, 5, 7])
def test_pixels_stored_mirrored_are_seen_as_the_scene_is(scene, orientation):
    """CIPA DC-008, tag 0x0112: the picture is right once its orientation is applied."""
    upright = Image.fromarray(np.ascontiguousarray(scene(REFERENCE).picture[..., ::-1]))
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        7: Image.Transpose.TRANSVERSE,
    }[orientation]
    exif, data = Image.Exif(), io.BytesIO()
    exif[0x0112] = orientation
    upright.transpose(undo).save(data, "JPEG", quality=93, exif=exif)
    assert see(data.getvalue(), "the photo").pose.tilt_deg < 20


STAINED = "slot?side=left&seed=53&stage=after&residue=1"


@pytest.fixture(scope="module")
def stained():
    """Result and drawing of a slot with three spots, the spots themselves, and the three photos."""
    before = scene_of("slot?side=left&seed=53&stage=before")
    one, two = scene_of(STAINED), scene_of(f"{STAINED}&take=1")
    result, drawing = measure(jpeg_of(one), asked(), jpeg_of(before), second=jpeg_of(two))
    return result, drawing, one.painted[1], (jpeg_of(before), jpeg_of(one), jpeg_of(two))


def test_each_spot_is_marked_with_its_area(stained):
    result, _, spots = stained[:3]
    found = sorted(mark["area_mm2"] for mark in result["marks"])
    assert found == [
        pytest.approx(area_mm2(spot), rel=0.35) for spot in sorted(spots, key=lambda spot: area_mm2(spot))
    ]


def test_marks_say_whether_a_spot_is_darker_or_brighter(stained):
    result, _, spots = stained[:3]
    assert sorted(np.sign(mark["strength_percent"]) for mark in result["marks"]) == sorted(
        np.sign(spot.contrast) for spot in spots
    )


def test_the_drawing_is_a_picture(stained):
    _, drawing, _ = stained[:3]
    with Image.open(io.BytesIO(drawing)) as picture:
        assert picture.format == "PNG" and picture.width > 600


def test_a_slot_without_spots_has_no_mark_and_is_not_called_clean():
    before, one, two = (
        jpeg_of(scene_of(f"slot?side=left&seed=33&stage={stage}"))
        for stage in ("before", "after", "after&take=1")
    )
    result, _ = measure(one, asked(), before, second=two)
    assert result["marks"] == [] and result["conformity"] == "inconclusive"
    assert "clean" not in result["sentence"]


def test_another_slot_is_not_compared():
    before, one, two = (
        jpeg_of(scene_of(f"slot?side=left&stage={stage}"))
        for stage in ("before&seed=33", "after&seed=1046", "after&seed=1046&take=1")
    )
    result, _ = measure(one, asked(), before, second=two)
    assert result["conformity"] == "refused" and result["reasons"] == ["scene"]


def test_another_part_on_the_same_bench_is_not_compared():
    before = jpeg_of(scene_of("mesh?seed=22"))
    one, two = (jpeg_of(scene_of(f"slot?side=left&stage=after&residue=1&seed={seed}")) for seed in (61, 62))
    result, _ = measure(one, asked(), before, second=two)
    assert (result["conformity"], result["reasons"]) == ("refused", ["scene"])


@pytest.mark.parametrize("given", [(0, 0, 1), (0, 1, 0), (0, 1, 1)])
def test_one_photo_given_twice_is_refused(given):
    photos = [jpeg_of(scene_of(f"slot?side=left&stage={stage}&seed=60")) for stage in ("after", "before")]
    photo, before, second = (photos[place] for place in given)
    result, _ = measure(photo, asked(), before, second=second)
    assert (result["conformity"], result["reasons"]) == ("refused", ["same"])


def test_the_check_bar_is_read_in_all_three_photos(stained):
    result, _, _ = stained[:3]
    for name in ("check_bar_mm", "reference_check_bar_mm", "second_check_bar_mm"):
        assert result[name] == pytest.approx(50.0, abs=0.02)


def test_a_bar_that_is_off_in_one_photo_is_told(stained):
    before, one, two = stained[3]
    picture = cv2.imdecode(np.frombuffer(two, np.uint8), cv2.IMREAD_COLOR)
    luma = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    pose = fit_pose(luma, find_markers(luma))
    for left, right, half, grey in ((24.3, 26.2, 2.3, 190), (25.0, 25.4, 2.0, 20)):
        x, y = np.array([left, right, right, left]), 4.0 + np.array([-half, -half, half, half])
        corners = np.round(np.column_stack(pose.to_pixels(x, y))).astype(np.int32)
        cv2.fillPoly(picture, [corners], (grey, grey, grey), cv2.LINE_AA)
    altered = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    result, _ = measure(one, asked(), before, second=altered)
    assert result["second_check_bar_mm"] == pytest.approx(50.4, abs=0.05)
    assert any("check bar" in said for said in result["reasons"])
    assert not any("check bar" in said for said in stained[0]["reasons"])


def test_a_surface_of_a_single_row_of_texture_has_a_field_along_it():
    x = np.arange(0.0, 12.0, 1.5)
    shift = np.column_stack([0.3 + 0.01 * x, np.zeros(len(x))])
    field = fit_field(np.column_stack([x, np.full(len(x), 5.0)]), shift)
    terms = np.column_stack([np.ones(len(x)), x, np.full(len(x), 5.0), x * x, 5 * x, np.full(len(x), 25.0)])
    assert terms @ field.T == pytest.approx(shift, abs=0.002)
