"""``evidence-app measure`` and ``evidence-app card`` at the terminal."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.practice.scenes.named import scene_of
from tests.photo.truths import jpeg_of


@pytest.fixture(scope="module")
def photo() -> bytes:
    return jpeg_of(scene_of("seam?gap_mm=0.12&seed=38"))


@pytest.fixture
def run(tmp_path, monkeypatch, photo):
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "seam.jpg").write_bytes(photo)
    return lambda line: CliRunner().invoke(main, line.split())


def test_a_seam_within_its_limit_exits_0_and_is_said(run):
    done = run("measure gap seam.jpg --at-most 0.2")
    assert done.exit_code == 0
    assert "Within the limit of at most 0.2 mm" in done.stdout


def test_a_seam_outside_its_limit_exits_1(run):
    assert run("measure gap seam.jpg --at-most 0.05").exit_code == 1


def test_json_holds_the_whole_result(run):
    result = json.loads(run("measure gap seam.jpg --json").stdout)
    assert {"value", "U", "budget", "stations", "largest"} <= set(result)


def test_markup_is_written_as_png(run, tmp_path):
    run("measure gap seam.jpg --markup drawn.png")
    assert (tmp_path / "drawn.png").read_bytes().startswith(b"\x89PNG")


def test_what_cannot_be_measured_exits_2_with_a_sentence(run, tmp_path):
    (tmp_path / "words.jpg").write_text("no photo", "utf-8")
    done = run("measure gap words.jpg")
    assert done.exit_code == 2
    assert "words.jpg: this is not a JPEG photo" in done.stderr


def test_a_known_recess_lets_a_leaning_mesh_be_measured(run, tmp_path):
    (tmp_path / "mesh.jpg").write_bytes(jpeg_of(scene_of("mesh?seed=942&steady=1&tilt_x_deg=8")))
    assert run("measure mesh mesh.jpg").exit_code == 2
    assert run("measure mesh mesh.jpg --recess 0.3 --recess-tolerance 0.05").exit_code == 0


@pytest.mark.parametrize(
    "line",
    [
        "measure gap seam.jpg --recess 0.3",
        "measure mesh seam.jpg --recess -1",
        "measure mesh seam.jpg --recess nan",
        "measure mesh seam.jpg --recess-tolerance 0.1",
        "measure mesh seam.jpg --recess 0.3 --recess-tolerance 0",
    ],
)
def test_a_recess_that_cannot_be_is_refused_with_a_sentence(run, line):
    done = run(line)
    assert done.exit_code == 2
    assert "recess" in done.stderr and "Traceback" not in done.stderr


def test_an_unknown_card_is_refused_with_what_to_do(run):
    done = run("measure gap seam.jpg --card NQ-9")
    assert done.exit_code == 2
    assert "card confirm NQ-9" in done.stderr


def test_a_confirmed_card_is_used(run):
    assert run("card confirm NQ-7 --bar-mm 50.5 --thickness-mm 0.5").exit_code == 0
    plain = json.loads(run("measure gap seam.jpg --json").stdout)
    known = json.loads(run("measure gap seam.jpg --json --card NQ-7").stdout)
    assert (known["card"]["serial"], known["card"]["confirmed"]) == ("NQ-7", True)
    assert known["card"]["scale"] == pytest.approx(1.01)
    assert known["value"] == pytest.approx(1.01 * plain["value"], abs=2e-4)
    assert "NQ-7" in run("card list").stdout


def test_a_card_fitted_to_the_page_is_not_confirmed(run):
    done = run("card confirm NQ-7 --bar-mm 47 --thickness-mm 0.5")
    assert done.exit_code == 2
    assert "100 percent" in done.stderr


def test_a_card_is_printed_to_a_new_file_only(run, tmp_path):
    assert run("card out.pdf --paper Letter --serial NQ-7").exit_code == 0
    assert (tmp_path / "out.pdf").read_bytes().startswith(b"%PDF")
    assert run("card out.pdf").exit_code == 2


def test_a_damaged_list_of_cards_is_named(run, tmp_path):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "cards.toml").write_text("[NQ-7]\nscale = 1.0\n", "utf-8")
    done = run("card list")
    assert done.exit_code == 2
    assert "NQ-7" in done.stderr
