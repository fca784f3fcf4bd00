"""The desk's windows, worked by touches, keys and dropped files as clerk and supervisor do."""

from __future__ import annotations

import os
import shutil
import subprocess

import pytest

from evidence_app.desk.countersign import paths_of
from evidence_app.desk.register import Register
from evidence_app.desk.search import Wanted, find, show
from tests.hostile.bag import Bag
from tests.hostile.make import ATTACKS, build
from tests.making import make_key, make_package

PIN = "730518"
ENTER = 13


@pytest.fixture(scope="module")
def received(tmp_path_factory):
    """A folder with a completed job (claim NQ-2026-0117) and a stopped one (NQ-2026-0200)."""
    folder = tmp_path_factory.mktemp("received")
    completed = make_package(folder / "1")
    stopped = make_package(
        folder / "2", outcome="stopped", claim="NQ-2026-0200", key=make_key(2), photo_size=(128, 96)
    )
    for made in (completed, stopped):
        shutil.move(made.path, folder / made.path.name)
    shutil.rmtree(folder / "1")
    shutil.rmtree(folder / "2")
    return folder


@pytest.fixture
def desk(tablet):
    """Starts the desk's windows for real packages."""
    return lambda **given: tablet(first="desk", practice=False, **given)


def drop(driver, *paths) -> None:
    from kivy.core.window import Window

    for path in paths:
        Window.dispatch("on_drop_file", os.fsencode(str(path)), 10, 10)
    driver.until(lambda: driver.place.desk.checking is not None, "the intake to begin")
    driver.until(lambda: driver.place.desk.checking is None, "the intake to end")
    driver.settle()


def enter(driver, typed: str) -> None:
    """What a keyboard or a hand scanner types."""
    driver.type(typed)
    driver.key(ENTER)
    driver.settle()


def search(driver, typed: str) -> None:
    driver.touch("search")
    enter(driver, typed)


def claim_of(received, driver, claim: str) -> None:
    """Take everything in and open the package of that claim."""
    drop(driver, received)
    search(driver, claim)
    driver.touch(next(a for a in driver.actions() if a.startswith("package ")))
    driver.until(lambda: driver.screen == "desk-package", "the package")
    driver.settle()


def register(driver) -> Register:
    return driver.place.desk.register


def altered(package, folder):
    """A copy with one byte of a photo changed."""
    return build(ATTACKS["photo-byte-altered"], package, folder).path


def test_dropped_folder_is_taken_in_package_by_package(desk, received):
    driver = desk()
    drop(driver, received)
    assert driver.texts().count("Entered as package") == 2
    assert len(find(register(driver))) == 2


def test_same_package_again_is_recognised(desk, received):
    driver = desk()
    drop(driver, received)
    drop(driver, received)
    assert driver.texts().count("it was received before as package") == 2
    assert len(find(register(driver))) == 2


def test_altered_file_is_named_with_both_checksums(desk, received, tmp_path):
    driver = desk()
    original = next(received.glob("*0117*.zip"))
    drop(driver, altered(original, tmp_path))
    driver.touch("arrival 0")
    (file,) = show(register(driver), 1).results[-1]["json"]["altered"]
    shown = driver.texts().replace(" ", "").replace("\n", "")
    assert f"Alteredfile:{Bag.read(original).first('data/photos/')}" in shown
    assert file["expected"] in shown
    assert file["found"] in shown


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("h7-004211", "h7-004211 is the serial number in the package."),
        ("NQ-2026-0118", "NQ-2026-0118 is neither"),
    ],
)
def test_typed_number_is_compared(desk, received, typed, said):
    driver = desk()
    claim_of(received, driver, "NQ-2026-0117")
    enter(driver, typed)
    assert said in driver.texts()


def test_decision_with_its_reason_is_entered_and_shown(desk, received):
    driver = desk()
    claim_of(received, driver, "NQ-2026-0117")
    driver.touch("decide")
    driver.touch("returned")
    driver.type("The rim is not shown.")
    driver.touch("record")
    driver.settle()
    (row,) = find(register(driver), Wanted(decision="returned"))
    assert row["claim"] == "NQ-2026-0117"
    assert "The rim is not shown." in driver.texts()


def test_cancelled_intake_enters_whole_packages_only(desk, received, tmp_path):
    for number in range(40):
        shutil.copyfile(next(received.glob("*0117*.zip")), tmp_path / f"copy-{number}.zip")
    driver = desk()
    from kivy.core.window import Window

    Window.dispatch("on_drop_file", os.fsencode(str(tmp_path)), 10, 10)
    driver.until(lambda: "cancel" in driver.actions(), "the intake to begin")
    driver.touch("cancel")
    driver.until(lambda: driver.place.desk.checking is None, "the intake to end")
    driver.settle()
    assert "Cancelled" in driver.texts()
    assert len(driver.place.desk.arrivals) < 40
    assert all(row["exit_status"] is not None for row in find(register(driver)))


@pytest.mark.parametrize(
    ("typed", "count"),
    [("0200", "1 package"), ("h7-0042", "2 packages"), ("XX", "No package fits.")],
)
def test_a_part_of_a_number_is_enough_to_find(desk, received, typed, count):
    driver = desk()
    drop(driver, received)
    search(driver, typed)
    assert count in driver.texts()


def test_words_of_a_note_find_its_package(desk, received):
    driver = desk()
    drop(driver, received)
    driver.touch("search")
    driver.touch("fields")
    driver.touch("text")
    driver.type("residue")
    driver.touch("record")
    driver.settle()
    assert [a for a in driver.actions() if a.startswith("package ")] == ["package 2"]


def test_stop_is_shown_with_rule_finding_photos_and_times(desk, received):
    driver = desk()
    claim_of(received, driver, "NQ-2026-0200")
    driver.touch("review")
    driver.until(lambda: driver.screen == "desk-review", "the review")
    driver.settle()
    for words in (
        "Residue is seen in a tab slot.",
        "Exchange the whole unit.",
        "No retrieval through the slot.",
        "M. Okafor-Lind",
        "R. Tavares-Holm",
        "not clear",
        "What was done without the app it cannot show",
    ):
        assert words in driver.texts()
    driver.touch("photo 0")
    driver.settle()
    assert driver.screen == "desk-photo"


def test_disagreement_is_signed_and_openssl_accepts_it(desk, received, tmp_path):
    driver = desk()
    own = shutil.copytree(received, tmp_path / "own")
    claim_of(own, driver, "NQ-2026-0200")
    driver.touch("review")
    driver.until(lambda: driver.screen == "desk-review", "the review")
    driver.touch("countersign")
    driver.touch("disagree")
    driver.type("The floor was never lit.")
    driver.touch("record")
    driver.type("R. Tavares-Holm")
    driver.touch("record")
    for _ in range(2):  # a new PIN is asked for twice
        driver.type(PIN)
        driver.touch("record")
    driver.until(lambda: "disagreed" in driver.texts(), "the countersign")
    content, signature, key = paths_of(next(own.glob("*0200*.zip")), 1)
    done = subprocess.run(
        [
            "openssl",
            "pkeyutl",
            "-verify",
            "-pubin",
            "-inkey",
            key,
            "-rawin",
            "-in",
            content,
            "-sigfile",
            signature,
        ],
        capture_output=True,
        text=True,
    )
    assert "Signature Verified Successfully" in done.stdout
    assert b"The floor was never lit." in content.read_bytes()
    assert any(e["kind"] == "countersigned" for e in show(register(driver), 2).events)


def test_reused_photos_are_laid_side_by_side(desk, received, tmp_path):
    again = make_package(tmp_path / "again", claim="NQ-2026-0300", key=make_key(3)).path
    driver = desk()
    drop(driver, received)
    drop(driver, again)
    assert "shown before in other claims" in driver.texts()
    driver.touch("arrival 0")
    driver.touch("pairs")
    driver.until(lambda: "closer" in driver.actions(), "the pairs")
    assert "claim NQ-2026-0117" in driver.texts()
    assert driver.root.screen.pane.opacity == 1


def test_stops_are_counted_and_saved_as_table_and_pictures(desk, received, home):
    driver = desk()
    drop(driver, received)
    driver.touch("stops")
    driver.until(lambda: "1 of 2 jobs were stopped" in driver.texts(), "the count")
    driver.touch("export")
    driver.settle()
    written = [path.suffix for path in home.rglob("*") if path.suffix in (".csv", ".png", ".svg")]
    assert {".csv", ".png", ".svg"} <= set(written)


def test_report_is_printed_as_pdf(desk, received, home):
    driver = desk()
    claim_of(received, driver, "NQ-2026-0117")
    driver.touch("print")
    driver.touch("paper A4")
    driver.until(lambda: "The report was written" in driver.texts(), "the PDF")
    (pdf,) = home.rglob("*.pdf")
    assert pdf.read_bytes().startswith(b"%PDF-")


def test_disk_that_is_gone_is_said_and_nothing_is_entered(desk, tmp_path):
    driver = desk()
    drop(driver, tmp_path / "disk")
    assert "Not received." in driver.texts()
    assert not register(driver).path.exists() or not find(register(driver))


def test_damaged_register_is_said_and_left_as_it_is(desk, received, home):
    path = home / "desk" / "register.db"
    path.parent.mkdir(parents=True)
    path.write_bytes(b"SQLite format 3\0" + b"\x7f" * 4000)
    before = path.read_bytes()
    driver = desk()
    drop(driver, received)
    assert "register" in driver.texts()
    assert not any(arrival.package for arrival in driver.place.desk.arrivals)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("size", "percent", "language"),
    [((1280, 800), 100, "en"), ((1024, 600), 200, "de"), ((800, 1280), 150, "de")],
)
def test_nothing_is_cut_off_or_overlaps(desk, received, tmp_path, size, percent, language):
    from tests.tablet.layout import faults

    driver = desk(size=size, text_size=percent, language=language)
    found = {}

    def check(name=None):
        driver.settle()
        driver.look(name)
        wrong = faults(driver.root)
        if wrong:
            found[name or driver.screen] = wrong

    check()
    drop(driver, received, altered(next(received.glob("*0117*.zip")), tmp_path))
    check("arrived")
    for door in ("choose", "search", "stops", "desk-settings"):
        driver.touch(door)
        check()
        if door == "search":
            driver.touch("fields")
            check("fields")
        driver.touch("back")
    driver.touch("arrival 0")
    check("altered")
    for door in ("decide", "print"):
        driver.touch(door)
        check(door)
        driver.touch("back")
    driver.touch("back")
    stopped = next(i for i, a in enumerate(driver.place.desk.arrivals) if a.package == 2)
    driver.touch(f"arrival {stopped}")
    driver.touch("review")
    driver.until(lambda: driver.screen == "desk-review", "the review")
    check()
    driver.touch("photo 0")
    check()
    driver.touch("back")
    driver.touch("countersign")
    check("countersign")
    assert not found
