"""A disclosed copy: photos and notes left out, all else checked, never taken for the whole."""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from click.testing import CliRunner
from PIL import Image

from evidence_app.cli import main
from evidence_app.package.verify.check import verify
from tests.making import make_package, photo


def run(*words):
    return CliRunner().invoke(main, [*map(str, words)])


@pytest.fixture(scope="module")
def stopped(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("stopped"), outcome="stopped").path


def names(package):
    with zipfile.ZipFile(package) as archive:
        return [name.partition("/")[2] for name in archive.namelist()]


def first(package, folder):
    return next(name for name in names(package) if name.startswith(folder))


def test_copy_holds_everything_else_byte_for_byte(stopped, tmp_path):
    photo, note = first(stopped, "data/photos/"), first(stopped, "data/voice/")
    copy = tmp_path / "copy.zip"
    done = run("disclose", stopped, copy, "--withhold", photo, "--withhold", note)
    assert done.exit_code == 0, done.output
    with zipfile.ZipFile(stopped) as whole, zipfile.ZipFile(copy) as part:
        kept = set(part.namelist())
        left = {name.partition("/")[2] for name in set(whole.namelist()) - kept}
        assert {photo, note, "data/report.html"} <= left
        assert all(part.read(name) == whole.read(name) for name in kept & set(whole.namelist()))
        assert {name.partition("/")[2] for name in kept - set(whole.namelist())} == {"fetch.txt"}


def test_verify_says_what_is_withheld_and_of_which_seal(stopped, tmp_path):
    photo = first(stopped, "data/photos/")
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", photo)
    seal = verify(stopped).facts.fingerprint
    told = run("verify", "--disclosed", tmp_path / "copy.zip")
    assert told.exit_code == 0
    assert f"Disclosed copy, not the whole package of seal {seal}" in told.output
    assert f"{photo}: withheld, SHA-256 " in told.output
    [as_json] = json.loads(run("verify", "--json", tmp_path / "copy.zip").output)
    assert photo in as_json["withheld"]


def test_copy_does_not_pass_unless_one_is_expected(stopped, tmp_path):
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", "data/voice/*")
    told = run("verify", tmp_path / "copy.zip")
    assert told.exit_code == 1
    assert "Disclosed copy" in told.output and "could not be checked: Report" in told.output


def test_whole_package_passes_where_a_copy_would(stopped):
    told = run("verify", "--disclosed", stopped)
    assert told.exit_code == 0 and "Disclosed copy" not in told.output


def test_drawing_on_a_withheld_photo_goes_with_it(stopped, tmp_path):
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", "data/photos/*")
    assert any(name.startswith("data/markup/") for name in names(stopped))
    assert not any(
        name.startswith(("data/markup/", "data/photos/")) for name in names(tmp_path / "copy.zip")
    )


def test_what_is_withheld_is_not_measured_again_and_the_rest_is(stopped, tmp_path):
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", "data/photos/*")
    found = verify(tmp_path / "copy.zip", disclosed=True, measure_again=True)
    assert "withheld or were measured by another version" in str(found.check("originals").sentence)


def test_copy_that_was_filled_again_is_the_whole_package(stopped, tmp_path):
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", "data/photos/*")
    for package in (stopped, tmp_path / "copy.zip"):
        with zipfile.ZipFile(package) as archive:
            archive.extractall(tmp_path / "filled")
    [folder] = (tmp_path / "filled").iterdir()
    (folder / "fetch.txt").unlink()
    assert verify(folder).exit_status == 0
    assert verify(folder).withheld == ()


@pytest.mark.parametrize("pattern", ["data/photos/9999.jpg", "data/journal.jsonl", "seal.json", ""])
def test_name_that_means_no_photo_or_note_is_refused(stopped, tmp_path, pattern):
    told = run("disclose", stopped, tmp_path / "copy.zip", "--withhold", pattern)
    assert told.exit_code == 2
    assert "no photo, drawing or note" in told.output
    assert list(tmp_path.iterdir()) == []


def test_copy_of_a_copy_and_of_an_altered_package_are_refused(stopped, tmp_path):
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", "data/voice/*")
    data = bytearray(stopped.read_bytes())
    data[data.index(b"\xff\xd8\xff") + 400] ^= 1
    (tmp_path / "altered.zip").write_bytes(data)
    for package in ("copy.zip", "altered.zip"):
        told = run("disclose", tmp_path / package, tmp_path / "new.zip")
        assert told.exit_code == 2 and "whole and sound" in told.output
    assert not (tmp_path / "new.zip").exists()


@pytest.fixture(params=["exif", "xmp"])
def located(tmp_path, request):
    """A package whose photos say where they were taken."""

    def taken(number):
        with Image.open(io.BytesIO(photo(number))) as picture:
            more = {"xmp": b'<x:xmpmeta><r exif:GPSLatitude="53,5.0N"/></x:xmpmeta>'}
            if request.param == "exif":
                exif = picture.getexif()
                exif.get_ifd(0x8825).update({1: "N", 2: (53.0, 5.0, 0.0)})
                more = {"exif": exif}
            picture.save(file := io.BytesIO(), "JPEG", **more)
        return file.getvalue()

    return make_package(tmp_path / "located", taken=taken).path


def test_photo_with_a_place_in_it_is_asked_for(located, tmp_path):
    told = run("disclose", located, tmp_path / "copy.zip")
    assert told.exit_code == 2
    assert "data/photos/" in told.output and "says where it was taken" in told.output
    assert not (tmp_path / "copy.zip").exists()
    assert run("disclose", located, tmp_path / "none.zip", "--withhold", "data/photos/*").exit_code == 0
    assert run("disclose", located, tmp_path / "all.zip", "--with-location").exit_code == 0


def test_desk_takes_a_disclosed_copy_for_what_it_is(stopped, tmp_path):
    run("disclose", stopped, tmp_path / "copy.zip", "--withhold", "data/photos/*")
    told = run(
        "desk", "--register", tmp_path / "register.db", "intake", tmp_path / "copy.zip", "--by", "desk 2"
    )
    assert told.exit_code == 1 and "Disclosed copy" in told.output
