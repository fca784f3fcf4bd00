"""Photos shown before: copies are found, honest photos of the same checkpoint are not called copies."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import cv2
import numpy as np
import pytest

from evidence_app import language
from evidence_app.desk.contents import Contents
from evidence_app.desk.intake import Desk, Intake, hash_missing_photos, sentences
from evidence_app.desk.photos.card import without_card
from evidence_app.desk.photos.compare import compare, picture_of
from evidence_app.desk.photos.features import BITS, ROW, Features, features_in
from evidence_app.desk.photos.index import PhotoIndex
from evidence_app.desk.photos.pairs import pairs_of
from evidence_app.desk.register import Checked, HashedPhoto, Register
from evidence_app.desk.search import show
from evidence_app.deskpage.shown.package import lines_of
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


@pytest.mark.parametrize("name", [*COPIES, "cropped"])
def test_strict_comparison_takes_a_copy_for_the_same_picture(slot, name):
    copy = COPIES[name](slot) if name in COPIES else cropped(slot, 0.2)
    mirrored = name == "mirrored"
    assert compare(picture_of(copy), picture_of(slot), mirrored).same


def test_strict_comparison_tells_honest_photos_apart(slot, honest):
    assert not compare(picture_of(honest), picture_of(slot)).same


def test_honest_photos_that_lie_on_each_other_at_a_small_size_are_told_apart():
    """Of 60 jobs these two seams were the nearest: 98 % of the patches agreed at 640 pixels."""
    one, other = (scene_of(f"seam?seed={seed}&megapixels=3").picture for seed in (249, 203))
    found = compare(picture_of(one), picture_of(other))
    assert found.inliers > 40, "they look alike enough for the features to agree"
    assert not found.same


@pytest.mark.parametrize("view, seeds", [("tray-full", (52, 72)), ("plate", (315, 306))])
def test_photos_of_two_units_with_the_same_print_are_told_apart(view, seeds):
    """A cell's label, or a type plate, fills the picture; 96 % of the patches agree."""
    one, other = (scene_of(f"{view}?seed={seed}&megapixels=3").picture for seed in seeds)
    found = compare(picture_of(one), picture_of(other))
    assert found.agreement > 0.85, "they look alike enough for the patches to agree"
    assert not found.same


@pytest.fixture(scope="module")
def plate() -> np.ndarray:
    return scene_of("plate?seed=1042&megapixels=3").picture


def blurred(picture: np.ndarray) -> np.ndarray:
    noise = np.random.default_rng(1).normal(0, 6, picture.shape)
    return np.clip(cv2.GaussianBlur(picture, (0, 0), 1.8) + noise, 0, 255).astype(np.uint8)


WORN = {
    "saved at quality 30": lambda p: saved(p, 30),
    "blurred with noise": blurred,
    "its paper blown out": lambda p: saved(cv2.convertScaleAbs(p, alpha=1.5, beta=30), 85),
}


@pytest.mark.parametrize("wear", WORN)
def test_worn_copy_of_flat_print_is_the_same_picture(plate, wear):
    """Its grain is gone, or only its plain paper is: tilt and light, or the grain elsewhere, tell."""
    assert compare(picture_of(WORN[wear](plate)), picture_of(plate)).same


def test_source_of_a_cut_print_that_all_photos_share_is_among_the_few_compared(register):
    """Every plate has the same features; only of its source is a cut a plain enlargement."""
    plates = [scene_of(f"plate?seed={seed}&megapixels=1").picture for seed in range(1061, 1077)]
    index = PhotoIndex(register)
    rows = {number: features_in(each).rows for number, each in enumerate(plates, 1)}
    index.add(list(rows), list(rows.values()))
    index.places = lambda photos: {number: rows[number] for number in photos}
    for number in (3, 14):
        near = index.near(features_in(cropped(plates[number - 1], 0.2)))
        assert number in [each.photo for each in near]


def test_no_feature_lies_on_the_scale_card(slot):
    """The card is the same print in every photo: it would speak for every pair."""
    apart = without_card(cv2.cvtColor(slot, cv2.COLOR_BGR2GRAY))
    rows = features_in(slot).rows
    x, y = ((rows[name].astype(float) * max(slot.shape)).astype(int) for name in ("x", "y"))
    assert len(rows) > 100
    assert apart[y.clip(max=apart.shape[0] - 1), x.clip(max=apart.shape[1] - 1)].all()


def test_features_of_the_mirror_image_are_those_of_the_mirrored_picture(slot):
    asked = features_in(slot).mirrored
    found = features_in(np.ascontiguousarray(slot[:, ::-1])).rows
    bits = np.bitwise_count(asked["bits"][:, None] ^ found["bits"][None]).sum(axis=2)
    assert (bits.min(axis=1) <= 16).mean() > 0.7


def test_picture_with_nothing_in_it_has_no_features():
    assert not features_in(np.full((400, 600, 3), 90, np.uint8)).usable


def package_with(folder: Path, pictures: list[np.ndarray], monkeypatch, seed: int, claim: str):
    """A sealed package whose photos are these pictures."""
    left = iter(pictures * 2)

    def photo(number, width, height):
        made = next(left)
        return making.encode_jpeg(made, making.START, f"{seed:016x}{number:016x}", "test camera")

    monkeypatch.setattr(making, "photo", photo)
    return make_package(folder, key=make_key(seed), claim=claim).path


@pytest.fixture(scope="module")
def other() -> np.ndarray:
    """A picture of something else."""
    return scene_of("mesh?side=left&seed=3&megapixels=0.5").picture


@pytest.fixture(scope="module")
def sent_in(slot, honest, tmp_path_factory) -> tuple[Path, Path]:
    """A package with both pictures, and the folder of a register that has received it."""
    folder = tmp_path_factory.mktemp("first")
    with pytest.MonkeyPatch.context() as patch:
        package = package_with(folder, [slot, honest], patch, 1, "NQ-1")
    Intake(Register(folder / "desk" / "register.db"), Desk("desk 2")).take(package)
    return package, folder / "desk"


@pytest.fixture
def first(slot, honest, tmp_path, monkeypatch):
    """As ``sent_in``, of the test's own and not received yet."""
    return package_with(tmp_path / "first", [slot, honest], monkeypatch, 1, "NQ-1")


@pytest.fixture
def knowing(register, intake, sent_in) -> Intake:
    """A desk that has received the package of ``sent_in``."""
    shutil.copytree(sent_in[1], register.path.parent, dirs_exist_ok=True)
    return intake


def test_reused_photo_is_found_at_intake(register, knowing, slot, other, tmp_path, monkeypatch):
    again = package_with(tmp_path / "two", [saved(slot, 60), other], monkeypatch, 2, "NQ-2")
    taken = knowing.take(again)
    assert [each["verdict"] for each in taken.reused] == ["same-picture"]
    assert (taken.reused[0]["earlier_claim"], taken.reused[0]["earlier_package"]) == ("NQ-1", 1)
    assert show(register, taken.package).package["photos_reused"] == 1


def test_where_a_photo_was_shown_is_said_in_the_language_in_use(
    register, intake, slot, first, tmp_path, monkeypatch
):
    intake.take(first)
    other = scene_of("mesh?side=left&seed=3&megapixels=0.5").picture
    taken = intake.take(package_with(tmp_path / "two", [slot[:, ::-1], other], monkeypatch, 2, "NQ-2"))
    place = taken.reused[0]["earlier_path"]
    english = f"the same picture as in package 1, claim NQ-1 ({place}): laid over each other mirrored, "
    german = f"dasselbe Bild wie in Paket 1, Garantiefall NQ-1 ({place}): übereinandergelegt, gespiegelt, "
    assert english in "\n".join(sentences(taken))
    with language.speaking("de"):
        assert german in "\n".join(sentences(taken))
        assert german in "\n".join(lines_of(show(register, taken.package)))


def test_what_an_older_version_said_of_a_photo_is_shown_as_it_was_kept(register, intake, first):
    intake.take(first)
    kept = "the same picture as in package 1: 3 of 256 bits differ, mirrored"
    with closing(sqlite3.connect(register.path)) as database:
        row = (1, 2, "same-picture", 3, "mirrored", 0.97, kept)
        names = "photo, earlier, verdict, distance, turned, agreement, sentence"
        database.execute(f"INSERT INTO reused ({names}) VALUES (?, ?, ?, ?, ?, ?, ?)", row)
        database.commit()
    for spoken in language.LANGUAGES:
        with language.speaking(spoken):
            assert kept in "\n".join(lines_of(show(register, 1)))


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
def test_photo_that_lost_its_rims_is_found_at_intake(knowing, slot, other, tmp_path, monkeypatch, cut):
    again = package_with(tmp_path / "two", [saved(CUTS[cut](slot), 80), other], monkeypatch, 2, "NQ-2")
    reused = knowing.take(again).reused
    assert [each["verdict"] for each in reused] == ["same-picture"]


@pytest.fixture(scope="module")
def alike() -> list[np.ndarray]:
    """The same checkpoint in twelve other jobs."""
    return [scene_of(f"slot?side=left&seed={n}&megapixels=0.5").picture for n in range(21, 33)]


def test_copy_is_found_among_honest_photos_of_the_same_checkpoint(
    knowing, slot, other, alike, tmp_path, monkeypatch
):
    """Honest photos once used up the few that were compared, and were told one by one."""
    for seed, pictures in enumerate(zip(alike[::2], alike[1::2], strict=True), start=2):
        folder = tmp_path / str(seed)
        honest = package_with(folder, list(pictures), monkeypatch, seed, f"NQ-{seed}")
        assert knowing.take(honest).reused == ()
    copy = cv2.convertScaleAbs(cropped(slot, 0.1), alpha=1.1, beta=10)
    again = package_with(tmp_path / "again", [saved(copy, 80), other], monkeypatch, 90, "NQ-90")
    reused = knowing.take(again).reused
    assert [(each["verdict"], each["earlier_claim"]) for each in reused] == [("same-picture", "NQ-1")]


def test_picture_sent_in_again_and_again_is_found_each_time(knowing, slot, other, tmp_path, monkeypatch):
    """What everybody has counts nothing, that is eleven others, and that must not become true of
    a copy."""
    for seed in range(2, 15):
        pictures = [saved(slot, 95 - seed), scene_again(other, seed)]
        again = package_with(tmp_path / str(seed), pictures, monkeypatch, seed, f"NQ-{seed}")
        told = {each["earlier_claim"] for each in knowing.take(again).reused if "0001" in each["path"]
                or each["verdict"] == "same-picture"}  # fmt: skip
        assert "NQ-1" in told


def test_same_file_is_found_without_looking(knowing, slot, honest, tmp_path, monkeypatch):
    again = package_with(tmp_path / "two", [slot, honest], monkeypatch, 1, "NQ-2")
    verdicts = [each["verdict"] for each in knowing.take(again).reused]
    assert verdicts == ["same-file", "same-file"]


def test_photos_of_the_same_job_are_not_reused(knowing, sent_in, tmp_path):
    resealed = seal(sent_in[0].parents[1] / "job", tmp_path / "twice", make_key(9))
    assert knowing.take(resealed.path).reused == ()


def scene_again(picture: np.ndarray, seed: int) -> np.ndarray:
    """Another picture for every seed."""
    return np.roll(picture, 40 * seed, axis=1)


def test_earlier_package_that_is_gone_is_said(intake, slot, other, first, tmp_path, monkeypatch):
    intake.take(first)
    first.unlink()
    again = package_with(tmp_path / "two", [saved(slot, 60), other], monkeypatch, 2, "NQ-2")
    reused = intake.take(again).reused
    assert [each["verdict"] for each in reused] == ["not-compared"]
    assert "not there any more" in str(reused[0]["sentence"])


def test_photos_entered_meanwhile_by_another_desk_are_looked_at(
    register, slot, other, first, tmp_path, monkeypatch
):
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


def made_up(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    rows = np.zeros(60, ROW)
    rows["bits"] = rng.integers(0, 256, (60, BITS // 8), np.uint8)
    rows["x"], rows["y"] = rng.random((2, 60))
    rows["angle"], rows["size"] = rng.random(60) * 360, 0.02
    return rows


def enter(register: Register, count: int) -> None:
    """Photos with random features, entered as the register enters them; photo n has made_up(n)."""
    start = register.last_photo()
    name = f"{start:064x}"
    contents = Contents(Path("some.zip"), "unreadable", 0, name, unreadable="it is made up")
    photos = [
        HashedPhoto(f"{name[:32]}{n:032x}", f"data/photos/{n}.jpg", n, None, None, None,
                    made_up(start + n).tobytes(), 60)
        for n in range(1, count + 1)
    ]  # fmt: skip
    register.receive(contents, Checked(None, "it is made up", making.START), "desk 2", photos)


def asked(index: PhotoIndex, seed: int, after: int = 0) -> list[int]:
    """Numbers of the photos near to photo ``seed`` with some bits of each feature changed."""
    rows = made_up(seed)
    rows["bits"][:, 0] ^= 0b10110
    return [near.photo for near in index.near(Features(rows, made_up(10**6)), after) if near.votes > 30]


def test_index_finds_the_photo_with_the_same_features(register):
    enter(register, 500)
    index = PhotoIndex.open(register)
    assert asked(index, 123) == [123]
    assert asked(index, 123, after=124) == []


def test_features_that_an_older_version_did_not_keep_are_made(register, knowing):
    with closing(sqlite3.connect(register.path)) as database:
        database.execute("PRAGMA journal_mode = delete")
        database.execute("DROP TABLE features")
        database.execute("DROP TABLE observations")
        database.execute("PRAGMA user_version = 3")
    assert "older version" in str(show(register, 1).unsearched[0]["sentence"])
    assert hash_missing_photos(register) == (2, [])
    assert hash_missing_photos(register) == (0, [])
    assert show(register, 1).unsearched == []


def test_saved_index_is_used_again(register):
    enter(register, 300)
    PhotoIndex.open(register).save()
    enter(register, 5)
    index = PhotoIndex.open(register)
    assert len(index) == 305 * 60
    assert asked(index, 8) == [8]


def test_photos_of_an_index_in_lists_are_found_and_found_again_once_saved(register, monkeypatch):
    monkeypatch.setattr("evidence_app.desk.photos.index._FLAT", 5000)
    enter(register, 300)
    made = PhotoIndex.open(register)
    made.save()
    enter(register, 5)
    for index in (made, PhotoIndex.open(register)):
        found = [asked(index, number) for number in range(1, 301, 10)]
        assert found == [[number] for number in range(1, 301, 10)]
    assert asked(PhotoIndex.open(register), 303) == [303]


@pytest.mark.parametrize("damage", ["missing", "cut", "byte", "foreign"])
def test_damaged_index_is_made_again_from_the_register(register, tmp_path, damage):
    enter(register, 300)
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
    assert len(again) == 300 * 60
    assert asked(again, 100) == [100]


# --- both photos side by side ----------------------------------------------------------------


def test_both_photos_are_shown_side_by_side(register, knowing, slot, other, tmp_path, monkeypatch):
    part = cv2.convertScaleAbs(cropped(slot, 0.03), alpha=0.9)
    again = package_with(tmp_path / "two", [part, other], monkeypatch, 2, "NQ-2")
    ((row, picture),) = pairs_of(register, knowing.take(again).package)
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
