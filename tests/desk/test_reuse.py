"""Photos shown before: copies are found, honest photos of the same checkpoint are not called copies."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import cv2
import numpy as np
import pytest

from evidence_app.desk import schema
from evidence_app.desk.contents import Contents
from evidence_app.desk.intake import Desk, Intake, hash_missing_photos
from evidence_app.desk.photos.card import without_card
from evidence_app.desk.photos.compare import compare, prepare_picture
from evidence_app.desk.photos.hash import BITS, SAME, TURNS, hash_picture
from evidence_app.desk.photos.index import PhotoIndex
from evidence_app.desk.photos.pairs import pairs_of
from evidence_app.desk.register import Checked, HashedPhoto, Register
from evidence_app.desk.search import show
from evidence_app.practice.scenes.named import scene_of
from tests import making
from tests.making import make_key, make_package, seal


@pytest.fixture(scope="module")
def slot() -> np.ndarray:
    return scene_of("slot?side=left&seed=11&megapixels=0.5").picture


@pytest.fixture(scope="module")
def honest() -> np.ndarray:
    """The same checkpoint of the same model in another job."""
    return scene_of("slot?side=left&seed=12&megapixels=0.5").picture


def saved(picture: np.ndarray, quality: int = 40) -> np.ndarray:
    return cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], 1)


def cropped(picture: np.ndarray, part: float) -> np.ndarray:
    height, width = picture.shape[:2]
    y, x = round(height * part / 2), round(width * part / 2)
    return picture[y : height - y, x : width - x]


COPIES = {
    "saved again": saved,
    "smaller": lambda p: cv2.resize(p, None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA),
    "brighter": lambda p: cv2.convertScaleAbs(p, alpha=1.15, beta=20),
    "darker": lambda p: cv2.convertScaleAbs(p, alpha=0.7),
    "a quarter turned": lambda p: np.ascontiguousarray(np.rot90(p)),
    "upside down": lambda p: np.ascontiguousarray(p[::-1, ::-1]),
    "mirrored": lambda p: np.ascontiguousarray(p[:, ::-1]),
}


def nearest(one: np.ndarray, other: np.ndarray) -> tuple[int, int]:
    """(distance, turn) between a picture, turned as it may be, and another."""
    bits = np.frombuffer(hash_picture(other).bits, np.uint8)
    distances = np.unpackbits(hash_picture(one).turned ^ bits, axis=1).sum(axis=1)
    return int(distances.min()), int(distances.argmin())


TURNED = (
    lambda p: p,
    np.rot90,
    lambda p: np.rot90(p, 2),
    lambda p: np.rot90(p, 3),
    lambda p: p[::-1],
    lambda p: p[:, ::-1],
    lambda p: p.transpose(1, 0, 2),
    lambda p: np.rot90(p, 2).transpose(1, 0, 2),
)


@pytest.mark.parametrize("turn", range(8), ids=TURNS)
def test_hash_knows_each_turned_picture(slot, turn):
    distance, _ = nearest(np.ascontiguousarray(TURNED[turn](slot)), slot)
    assert distance <= 8


@pytest.mark.parametrize("turn", range(8), ids=TURNS)
def test_turns_are_named_as_they_are(slot, turn):
    # turned[t] is the hash of the picture after turn t.
    bits = np.frombuffer(hash_picture(np.ascontiguousarray(TURNED[turn](slot))).bits, np.uint8)
    distances = np.unpackbits(hash_picture(slot).turned ^ bits, axis=1).sum(axis=1)
    assert int(distances.argmin()) == turn


@pytest.mark.parametrize("name", COPIES)
def test_hash_takes_a_copy_for_the_same_picture(slot, name):
    assert nearest(COPIES[name](slot), slot)[0] <= SAME


@pytest.mark.parametrize("name", [*COPIES, "cropped"])
def test_strict_comparison_takes_a_copy_for_the_same_picture(slot, name):
    copy = COPIES[name](slot) if name in COPIES else cropped(slot, 0.2)
    mirrored = name == "mirrored"
    assert compare(prepare_picture(copy), prepare_picture(slot), mirrored).same


def test_strict_comparison_tells_honest_photos_apart(slot, honest):
    found = compare(prepare_picture(honest), prepare_picture(slot))
    assert not found.same
    assert found.inliers > 16, "they look alike enough for the features to agree"


def test_scale_card_does_not_make_one_of_two_honest_photos(slot, honest):
    """Quiet surfaces leave the card, the same print in both, nearly all that has structure."""
    on_card = without_card(cv2.cvtColor(slot, cv2.COLOR_BGR2GRAY)) == 0
    one, other = cv2.GaussianBlur(slot, (0, 0), 2), cv2.GaussianBlur(honest, (0, 0), 2)
    one[on_card] = other[on_card] = slot[on_card]
    found = compare(prepare_picture(one), prepare_picture(other))
    assert found.inliers > 16, "the card lies on itself"
    assert not found.same


def test_picture_with_nothing_in_it_is_not_hashed():
    assert not hash_picture(np.full((400, 600, 3), 90, np.uint8)).usable


def package_with(folder: Path, pictures: list[np.ndarray], monkeypatch, seed: int, claim: str):
    """A sealed package whose photos are these pictures."""
    left = iter(pictures * 2)

    def photo(number, width, height):
        made = next(left)
        return making.encode_jpeg(made, making.START, f"{seed:016x}{number:016x}", "test camera")

    monkeypatch.setattr(making, "photo", photo)
    return make_package(folder, key=make_key(seed), claim=claim).path


@pytest.fixture
def first(slot, honest, tmp_path, monkeypatch):
    return package_with(tmp_path / "first", [slot, honest], monkeypatch, 1, "NQ-1")


def test_reused_photo_is_found_at_intake(register, intake, slot, first, tmp_path, monkeypatch):
    intake.take(first)
    other = scene_of("mesh?side=left&seed=3&megapixels=0.5").picture
    again = package_with(tmp_path / "two", [saved(slot, 60), other], monkeypatch, 2, "NQ-2")
    taken = intake.take(again)
    assert [each["verdict"] for each in taken.reused] == ["same-picture"]
    assert (taken.reused[0]["earlier_claim"], taken.reused[0]["earlier_package"]) == ("NQ-1", 1)
    assert show(register, taken.package).package["photos_reused"] == 1


CUTS = {
    "a tenth cut away": lambda p: cropped(p, 0.10),
    "a quarter cut away": lambda p: cropped(p, 0.25),
    "turned by a degree": lambda p: rolled(p, 1),
    "turned by two degrees": lambda p: rolled(p, 2),
    "a twelfth of the right side cut away": lambda p: p[:, : p.shape[1] * 11 // 12],
    "a twelfth of the lower side cut away": lambda p: p[: p.shape[0] * 11 // 12],
    "cut at the upper left corner": lambda p: p[p.shape[0] // 16 :, p.shape[1] // 16 :],
}


def rolled(picture: np.ndarray, degrees: float) -> np.ndarray:
    """Turned about its middle, and enlarged so that no corner stays empty."""
    height, width = picture.shape[:2]
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), degrees, 1.08)
    return cv2.warpAffine(picture, matrix, (width, height))


@pytest.mark.parametrize("cut", CUTS)
def test_photo_that_lost_its_rims_is_found_at_intake(intake, slot, first, tmp_path, monkeypatch, cut):
    intake.take(first)
    other = scene_of("mesh?side=left&seed=3&megapixels=0.5").picture
    again = package_with(tmp_path / "two", [saved(CUTS[cut](slot), 80), other], monkeypatch, 2, "NQ-2")
    reused = intake.take(again).reused
    assert [each["verdict"] for each in reused] == ["same-picture"]
    assert reused[0]["turned"] == "cut or slightly turned"


def test_honest_photo_is_not_told_by_its_middle(intake, first, tmp_path, monkeypatch):
    intake.take(first)
    pictures = [scene_of(f"slot?side=left&seed={n}&megapixels=0.5").picture for n in (13, 14)]
    again = package_with(tmp_path / "two", pictures, monkeypatch, 2, "NQ-2")
    assert "same-picture" not in [each["verdict"] for each in intake.take(again).reused]


def test_same_file_is_found_without_looking(intake, slot, honest, first, tmp_path, monkeypatch):
    intake.take(first)
    again = package_with(tmp_path / "two", [slot, honest], monkeypatch, 1, "NQ-2")
    verdicts = [each["verdict"] for each in intake.take(again).reused]
    assert verdicts == ["same-file", "same-file"]


def test_photos_of_the_same_job_are_not_reused(intake, first, tmp_path):
    intake.take(first)
    resealed = seal(first.parents[1] / "job", tmp_path / "twice", make_key(9))
    assert intake.take(resealed.path).reused == ()


def test_earlier_package_that_is_gone_is_said(intake, slot, first, tmp_path, monkeypatch):
    intake.take(first)
    first.unlink()
    other = scene_of("mesh?side=left&seed=3&megapixels=0.5").picture
    again = package_with(tmp_path / "two", [saved(slot, 60), other], monkeypatch, 2, "NQ-2")
    reused = intake.take(again).reused
    assert [each["verdict"] for each in reused] == ["not-compared"]
    assert "not there any more" in reused[0]["sentence"]


def test_photos_entered_meanwhile_by_another_desk_are_looked_at(
    register, slot, first, tmp_path, monkeypatch
):
    other = scene_of("mesh?side=left&seed=3&megapixels=0.5").picture
    again = package_with(tmp_path / "two", [saved(slot, 60), other], monkeypatch, 2, "NQ-2")
    mine = Intake(register, Desk("desk 1"))
    catch_up = PhotoIndex.catch_up
    meanwhile = []

    def and_then_the_other_desk_is_quicker(index):
        found = catch_up(index)
        if not meanwhile:
            meanwhile.append(True)
            Intake(Register(register.path), Desk("desk 2")).take(first)
        return found

    PhotoIndex.open(register)
    mine._photos()
    monkeypatch.setattr(PhotoIndex, "catch_up", and_then_the_other_desk_is_quicker)
    assert [each["verdict"] for each in mine.take(again).reused] == ["same-picture"]


# --- the index ---------------------------------------------------------------------------


def enter(register: Register, count: int) -> np.ndarray:
    """Photos with random hashes, entered as the register enters them; (count, 32) uint8."""
    rng = np.random.default_rng(register.last_photo())
    codes, middles = rng.integers(0, 256, (2, count, 32), np.uint8)
    name = f"{register.last_photo():064x}"
    contents = Contents(Path("some.zip"), "unreadable", 0, name, unreadable="it is made up")
    photos = [
        HashedPhoto(
            f"{name[:32]}{n:032x}",
            f"data/photos/{n}.jpg",
            n,
            None,
            None,
            None,
            row.tobytes(),
            90,
            middles[n].tobytes(),
        )
        for n, row in enumerate(codes)
    ]
    register.receive(contents, Checked(None, "it is made up", making.START), "desk 2", photos)
    return codes


def turned(code: np.ndarray, flipped: int) -> np.ndarray:
    """Eight hashes, the third of which differs from ``code`` in so many bits."""
    rows = np.random.default_rng(5).integers(0, 256, (8, BITS // 8), np.uint8)
    bits = np.unpackbits(code)
    bits[:flipped] ^= 1
    rows[2] = np.packbits(bits)
    return rows


NOTHING_LIKE = np.random.default_rng(6).integers(0, 256, (8, BITS // 8), np.uint8)


def asked(index: PhotoIndex, whole: np.ndarray, middles: np.ndarray = NOTHING_LIKE, after: int = 0):
    return index.near(whole, middles, within=60, middle_within=54, after=after)


def test_index_finds_the_nearest_and_how_it_was_turned(register):
    codes = enter(register, 500)
    index = PhotoIndex.open(register)
    near = asked(index, turned(codes[123], 20))
    assert [(each.photo, each.distance, each.turn, each.middle) for each in near] == [
        (124, 20, 2, False)
    ]
    assert asked(index, turned(codes[123], 20), after=124) == []


def test_index_finds_a_photo_by_its_middle(register):
    enter(register, 500)
    index = PhotoIndex.open(register)
    with register.lookup() as database:
        (middle,) = database.conn.execute("SELECT pdq FROM middles WHERE photo = 77").fetchone()
    near = asked(index, NOTHING_LIKE, turned(np.frombuffer(middle, np.uint8), 20))
    assert [(each.photo, each.distance, each.middle) for each in near] == [(77, 20, True)]


def test_middles_that_an_older_version_did_not_keep_are_hashed(register, first):
    schema_of_before = schema.STEPS[:2]
    Intake(register, Desk("desk 1")).take(first)
    with closing(sqlite3.connect(register.path)) as database:
        database.execute("PRAGMA journal_mode = delete")
        database.execute("DROP TABLE middles")
        database.execute(f"PRAGMA user_version = {len(schema_of_before)}")
    assert hash_missing_photos(register) == (2, [])
    assert hash_missing_photos(register) == (0, [])
    with register.lookup() as database:
        assert database["middles"].count == 2


def test_saved_index_is_used_again(register):
    codes = enter(register, 300)
    PhotoIndex.open(register).save()
    enter(register, 5)
    index = PhotoIndex.open(register)
    assert len(index) == 305
    assert asked(index, turned(codes[7], 3))[0].photo == 8


@pytest.mark.parametrize("damage", ["missing", "cut", "byte", "foreign"])
def test_damaged_index_is_made_again_from_the_register(register, tmp_path, damage):
    codes = enter(register, 300)
    index = PhotoIndex.open(register)
    index.save()
    data = bytearray(index.path.read_bytes())
    if damage == "missing":
        index.path.unlink()
    elif damage == "foreign":
        other = Register(tmp_path / "other" / "register.db")
        enter(other, 10)
        foreign = PhotoIndex.open(other)
        foreign.save()
        index.path.write_bytes(foreign.path.read_bytes().replace(b'"last":10', b'"last":300'))
    else:
        data[-40] ^= 1
        index.path.write_bytes(data[: len(data) // 2] if damage == "cut" else data)
    again = PhotoIndex.open(register)
    assert len(again) == 300
    assert asked(again, turned(codes[99], 10))[0].photo == 100


# --- both photos side by side ----------------------------------------------------------------


def test_both_photos_are_shown_side_by_side(register, intake, slot, first, tmp_path, monkeypatch):
    intake.take(first)
    other = scene_of("mesh?side=left&seed=3&megapixels=0.5").picture
    part = cv2.convertScaleAbs(cropped(slot, 0.03), alpha=0.9)
    again = package_with(tmp_path / "two", [part, other], monkeypatch, 2, "NQ-2")
    ((row, picture),) = pairs_of(register, intake.take(again).package)
    assert (row["verdict"], row["earlier_claim"]) == ("same-picture", "NQ-1")
    sheet = cv2.imdecode(np.frombuffer(picture, np.uint8), 1)
    assert sheet.shape[1] > 1.9 * sheet.shape[0]
    orange = (sheet[..., 2] > 230) & (abs(sheet[..., 1].astype(int) - 165) < 25) & (sheet[..., 0] < 40)
    assert orange[:, :800].sum() > 1000, "what was matched is framed in the earlier photo"


def test_pair_without_the_earlier_package_has_no_picture(
    register, intake, slot, honest, first, tmp_path, monkeypatch
):
    intake.take(first)
    again = package_with(tmp_path / "two", [slot, honest], monkeypatch, 1, "NQ-2")
    number = intake.take(again).package
    first.unlink()
    assert [picture for _, picture in pairs_of(register, number)] == [None, None]
