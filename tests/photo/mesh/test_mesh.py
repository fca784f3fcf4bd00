"""Strips in their openings, rendered, against their truth, and what must be refused.

Scenes come from the demo's and the scoring seeds; nothing was tuned on these.
"""

from __future__ import annotations

import io
import json

import cv2
import numpy as np
import pytest
from PIL import Image

from evidence_app.photo.measure import measure
from evidence_app.photo.mesh.measure import known_recess, measure_mesh
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import Measurement, PhotoWanted
from tests.bench._photo_strips import strip_scene
from tests.photo.drawn import SCORING_SEEDS, drawn_mesh_scene
from tests.photo.truths import jpeg_of, truth_of

MESH = "mesh?side=left&seed=36"


@pytest.fixture
def wanted():
    asked = Measurement(MeasurementKind.MESH, "mm", None, 0.3)
    return PhotoWanted("mesh", "The strip", True, asked)


@pytest.fixture(scope="module", params=[500_024, 500_025])
def trial(request):
    """A photo of 12 megapixels: what was measured, and the truth by the same names."""
    scene = drawn_mesh_scene(request.param)
    truth = truth_of(scene)
    photo = cv2.imdecode(np.frombuffer(jpeg_of(scene), np.uint8), cv2.IMREAD_GRAYSCALE)
    return measure_mesh(photo), {
        "along": truth.offset_along_mm,
        "across": truth.offset_across_mm,
        "rotation": truth.rotation_deg,
        **truth.clearance_mm,
    }


@pytest.mark.parametrize(("name", "most"), [("along", 0.04), ("across", 0.02), ("rotation", 0.1)])
def test_offsets_and_rotation_are_as_near_as_is_aimed_for(trial, name, most):
    mesh, truth = trial
    assert abs(mesh.values[name] - truth[name]) <= most


@pytest.mark.parametrize("name", ["along", "across", "rotation", "start", "end", "near", "far"])
def test_every_value_lies_within_its_uncertainty(trial, name):
    mesh, truth = trial
    assert abs(mesh.values[name] - truth[name]) <= mesh.budgets[name].expanded()


@pytest.mark.parametrize("kind", ["narrow", "one row", "few holes"])
def test_a_strip_of_another_kind_is_measured(kind):
    scene = strip_scene(kind, SCORING_SEEDS[24_000], 4000)
    photo = cv2.imdecode(np.frombuffer(jpeg_of(scene), np.uint8), cv2.IMREAD_GRAYSCALE)
    across = measure_mesh(photo, None, known_recess(truth_of(scene).mesh.recess_mm, 0.05))
    assert across.values["across"] == pytest.approx(truth_of(scene).offset_across_mm, abs=0.02)


def test_the_recess_and_the_line_of_sight_are_in_the_budget(luma):
    leaning = luma("mesh?seed=941&steady=1&tilt_x_deg=4")
    usual, known = measure_mesh(leaning), measure_mesh(leaning, recess=known_recess(0.3, 0.02))
    assert known.budgets["across"].combined < usual.budgets["across"].combined


def test_a_photo_upside_down_gives_the_same_offsets(luma):
    turned = np.ascontiguousarray(np.rot90(luma(MESH), 2))
    assert measure_mesh(turned).values["across"] == pytest.approx(
        measure_mesh(luma(MESH)).values["across"], abs=0.005
    )


def refused(photo: np.ndarray) -> str:
    with pytest.raises(CannotMeasure) as refusal:
        measure_mesh(photo)
    return refusal.value.reason


def test_beyond_five_degrees_the_recess_must_be_known(luma):
    photo = luma("mesh?seed=942&steady=1&tilt_x_deg=8")
    assert refused(photo) == "tilted"
    assert measure_mesh(photo, recess=known_recess(0.3, 0.05)).recess.known


def test_the_recess_of_the_step_list_lets_a_leaning_photo_be_measured(scene):
    asked = Measurement(MeasurementKind.MESH, "mm", None, 0.3, recess=0.3, recess_tolerance=0.02)
    data = jpeg_of(scene("mesh?seed=942&steady=1&tilt_x_deg=8"))
    result, _ = measure(data, PhotoWanted("mesh", "The strip", True, asked))
    assert result["recess"] == {"mm": 0.3, "u_mm": pytest.approx(0.02 / 3**0.5, abs=1e-4), "known": True}


@pytest.mark.parametrize(
    "written", ["seam?megapixels=1.5&gap_mm=0.3&seed=943&steady=1", "slot?megapixels=1.5&seed=943&steady=1"]
)
def test_what_is_no_mesh_never_gets_a_number(luma, written):
    assert refused(luma(written)) in ("no mesh", "no opening")


def test_an_opening_cut_off_by_the_border_is_refused(luma):
    assert refused(luma(f"{MESH}&shift_y_mm=-26")) == "mesh outside"


@pytest.mark.parametrize(("offset", "verdict"), [(0.1, "within"), (0.4, "outside")])
def test_conformity_with_the_limit_of_the_step_list(scene, wanted, offset, verdict):
    result, _ = measure(jpeg_of(scene(f"mesh?seed=36&offset_along_mm={offset}")), wanted)
    assert result["conformity"] == verdict


def test_a_result_is_plain_json_with_its_budget(scene, wanted):
    result, _ = measure(jpeg_of(scene(MESH)), wanted)
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert result["U"] == pytest.approx(
        2 * np.sqrt(sum(line["u_mm"] ** 2 for line in result["budget"])), abs=2e-4
    )


def test_the_drawing_is_a_png_and_the_same_each_time(scene, wanted):
    first, again = (measure(jpeg_of(scene(MESH)), wanted)[1] for _ in range(2))
    assert Image.open(io.BytesIO(first)).format == "PNG"
    assert first == again


@pytest.mark.parametrize("name", ["empty", "cut short", "black", "noise", "no card"])
def test_bad_input_is_refused_with_a_sentence(scene, wanted, name):
    data = {
        "empty": lambda: b"",
        "cut short": lambda: jpeg_of(scene(MESH))[:20_000],
        "black": lambda: _jpeg(np.zeros((1500, 2000), np.uint8)),
        "noise": lambda: _jpeg(np.random.default_rng(1).integers(0, 256, (1500, 2000), np.uint8)),
        "no card": lambda: jpeg_of(scene("mesh?seed=36&card=0")),
    }[name]()
    result, drawing = measure(data, wanted)
    assert (result["conformity"], result["value"], drawing) == ("refused", None, None)
    assert result["sentence"].endswith(".")


def _jpeg(picture: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", picture)[1].tobytes()
