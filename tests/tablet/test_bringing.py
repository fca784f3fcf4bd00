"""Step lists and tickets come to the tablet on a disk, by touch; what is not right is named."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from evidence_app import locations
from evidence_app.locations import sample
from evidence_app.package.keys.signing_key import create_key
from evidence_app.package.keys.ticket import make_ticket
from evidence_app.tablet.bringing import bring

LIST = "ossmere-h7-bail-stand-exchange.toml"


@pytest.fixture
def disk(tmp_path) -> Path:
    """A depot's disk: a kit's folder with a step list and its pictures."""
    lists = tmp_path / "disk" / "kit" / "step-lists"
    lists.mkdir(parents=True)
    shutil.copy(sample(LIST), lists)
    shutil.copytree(sample(LIST).parent / "pictures", lists / "pictures")
    (tmp_path / "disk" / "key-list.toml").write_text('format = 1\ndepot = "a"\n')
    return tmp_path / "disk"


def problems(disk: Path) -> list[str]:
    return [str(error) for error in bring(disk)[1]]


def test_a_step_list_comes_with_its_pictures_and_once(home, disk):
    assert bring(disk) == ([LIST], [])
    here = locations.home() / "step-lists"
    assert (here / LIST).read_bytes() == sample(LIST).read_bytes()
    assert len(list((here / "pictures").glob("*.png"))) > 3
    assert bring(disk) == ([], [])


def test_nothing_of_a_step_list_is_kept_that_lacks_a_picture(home, disk):
    next((disk / "kit/step-lists/pictures").glob("check-*.png")).unlink()
    (problem,) = problems(disk)
    assert "is missing" in problem and "line" in problem
    assert not (locations.home() / "step-lists").exists()


@pytest.mark.parametrize(("version", "taken"), [("9.10", [LIST]), ("1.1", []), ("1.3", [])])
def test_only_a_newer_version_takes_the_place_of_one(home, disk, version, taken):
    bring(disk)
    text = sample(LIST).read_text().replace('version = "1.3"', f'version = "{version}"')
    (disk / "kit/step-lists" / LIST).write_text(text + "# another\n")
    assert bring(disk)[0] == taken
    assert len(problems(disk)) == (0 if taken else 1)


@pytest.mark.parametrize("version", ["1.3", "0.0"])
def test_one_that_the_tablet_cannot_use_gives_way(home, disk, version):
    kept = locations.home() / "step-lists" / LIST
    kept.parent.mkdir(parents=True)
    kept.write_bytes(sample(LIST).read_bytes()[:900])
    brought = disk / "kit/step-lists" / LIST
    brought.write_text(sample(LIST).read_text().replace('version = "1.3"', f'version = "{version}"'))
    assert bring(disk) == ([LIST], [])
    assert kept.read_bytes() == brought.read_bytes()


@pytest.mark.parametrize("content", [b"", b"\0" * 50, b"[[steps]\n", b"a = 1\n" * 400_000])
def test_a_file_that_is_no_step_list_is_named_among_step_lists(home, disk, content):
    (disk / "kit/step-lists/other.toml").write_bytes(content)
    taken, refused = bring(disk)
    assert (taken, len(refused)) == ([LIST], 1) and "other.toml" in str(refused[0])


def test_a_ticket_comes_with_its_signature_or_not_at_all(home, disk, tmp_path):
    key = create_key(tmp_path / "depot.pem", None, unencrypted=True)
    (disk / "tickets").mkdir()
    for name in ("one", "two"):
        ticket, signature = make_ticket(key, "Northquay Instrument Depot")
        (disk / "tickets" / f"{name}.json").write_bytes(ticket)
        (disk / "tickets" / f"{name}.json.sig").write_bytes(signature)
    (disk / "tickets/two.json.sig").unlink()
    taken, refused = bring(disk)
    assert "one.json" in taken and "two.json.sig" in str(refused[0])
    assert {p.name for p in (locations.home() / "tickets").iterdir()} == {"one.json", "one.json.sig"}


def test_a_technician_takes_the_list_from_the_disk_and_chooses_it(tablet, disk, monkeypatch):
    from evidence_app.tablet import sealing

    there: list[Path] = []
    monkeypatch.setattr(sealing, "removable_disks", lambda: tuple(there))
    driver = tablet(size=(1024, 600), practice=False)
    driver.touch("new")
    driver.touch("choose-list")
    assert "Plug in the depot's disk" in driver.texts()
    there.append(disk)
    driver.until(lambda: "bring 1" in driver.actions(), "the disk")
    driver.touch("bring 1")
    driver.until(lambda: f"list {Path(LIST).stem}" in driver.actions(), "the step list")
    assert f"Taken from the disk: {LIST}." in driver.texts()
    driver.touch(f"list {Path(LIST).stem}")
    assert "exchange the bail stand" in driver.texts()
