"""The kit's own scripts, in a network namespace without interfaces where the system has them.

The kit here holds no libraries: what is tried is what the scripts check, place and leave.
"""

from __future__ import annotations

import ensurepip
import hashlib
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from evidence_app.locations import asset
from evidence_app.machine.kit import SUMS, sign
from evidence_app.package.keys.signing_key import create_key

OFFLINE = ["unshare", "--net", "--map-root-user"]


@pytest.fixture(scope="module")
def depot(tmp_path_factory):
    return create_key(tmp_path_factory.mktemp("depot") / "key.pem", None, unencrypted=True)


@pytest.fixture
def kit(tmp_path, depot):
    return make_kit(tmp_path, depot)


@pytest.fixture(scope="module")
def installed(tmp_path_factory, depot):
    """A tablet that was set up with a start at login, for tests that leave it as it is."""
    place = tmp_path_factory.mktemp("installed")
    (place / "person").mkdir()
    tablet, kit = Tablet(place / "person"), make_kit(place, depot)
    said = install(tablet, kit, "--start-at-login")
    assert said.returncode == 0, said.stderr
    return tablet, kit


def make_kit(place: Path, depot) -> Path:
    folder = place / "kit on a disk"
    shutil.copytree(asset("kit"), folder)
    shutil.copy(asset("checker.html"), folder)
    (folder / "wheels").mkdir()
    (bundled,) = (Path(ensurepip.__file__).parent / "_bundled").glob("pip-*.whl")
    shutil.copy(bundled, folder / "wheels")
    (folder / "step-lists/pictures").mkdir(parents=True)
    (folder / "step-lists/pictures/one.png").write_bytes(b"a picture")
    (folder / "step-lists" / "one.toml").write_text("format = 1\n")
    (folder / "keys").mkdir()
    sign(folder, depot)
    return folder


class Tablet:
    def __init__(self, home: Path) -> None:
        self.home = home
        self.program = home / ".local/share/evidence-app-program"
        self.data = home / ".local/share/evidence-app"

    def run(self, script: Path, *words: str) -> subprocess.CompletedProcess:
        offline = OFFLINE if subprocess.run([*OFFLINE, "true"]).returncode == 0 else []
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "EVIDENCE_"))}
        return subprocess.run(
            [*offline, "sh", script, *words],
            capture_output=True,
            text=True,
            env=kept | {"HOME": str(self.home)},
        )


@pytest.fixture
def tablet(tmp_path):
    (tmp_path / "person").mkdir()
    return Tablet(tmp_path / "person")


def digest(kit: Path) -> str:
    return hashlib.sha256((kit / "depot-key.pem").read_bytes()).hexdigest()


def install(tablet, kit, *words):
    return tablet.run(kit / "install", "--depot-key-sha256", digest(kit), *words)


def refused(said, words, tablet):
    assert said.returncode == 1 and words in said.stderr, said.stderr
    assert not (tablet.program / "app").exists()


def test_it_is_installed_with_a_menu_entry(kit, tablet):
    said = install(tablet, kit)
    assert said.returncode == 0, said.stderr
    assert (tablet.program / "app/bin/python").exists()
    entry = (tablet.home / ".local/share/applications/evidence-app.desktop").read_text()
    assert f'Exec="{tablet.program}/app/bin/evidence-app" tablet' in entry
    assert (tablet.data / "step-lists/one.toml").exists()
    assert (tablet.data / "step-lists/pictures/one.png").read_bytes() == b"a picture"
    assert (tablet.data / "checker.html").exists()
    assert not (tablet.home / ".config/autostart").exists()


def test_it_starts_at_login_when_asked(installed):
    tablet, _ = installed
    assert (tablet.home / ".config/autostart/evidence-app.desktop").exists()


def test_an_unknown_depot_key_is_asked_about(kit, tablet):
    refused(tablet.run(kit / "install"), digest(kit), tablet)


def test_an_altered_file_is_named_and_nothing_installed(kit, tablet):
    (kit / "step-lists/one.toml").write_text("format = 2\n")
    refused(install(tablet, kit), "step-lists/one.toml", tablet)


def test_a_file_that_was_not_signed_is_refused(kit, tablet):
    (kit / "wheels/more-1-py3-none-any.whl").write_bytes(b"")
    refused(install(tablet, kit), "did not sign", tablet)


def test_checksums_made_anew_without_the_depot_are_refused(kit, tablet):
    (kit / "step-lists/one.toml").write_text("format = 2\n")
    altered = hashlib.sha256(b"format = 2\n").hexdigest()
    lines = (kit / SUMS).read_text().splitlines(keepends=True)
    (kit / SUMS).write_text(
        "".join(f"{altered}  step-lists/one.toml\n" if "one.toml" in line else line for line in lines)
    )
    refused(install(tablet, kit), "signature over the kit does not hold", tablet)


def test_an_update_of_another_depot_is_refused_and_the_old_stays(installed, kit, tmp_path):
    tablet, _ = installed
    before = (tablet.program / "app").resolve()
    sign(kit, create_key(tmp_path / "other.pem", None, unencrypted=True))
    said = install(tablet, kit)
    assert said.returncode == 1 and "another depot key" in said.stderr
    assert (tablet.program / "app").resolve() == before


def test_an_update_keeps_jobs_and_settings(kit, tablet):
    install(tablet, kit)
    (tablet.data / "jobs").mkdir()
    (tablet.data / "jobs/one").write_text("a job")
    (tablet.data / "tablet.toml").write_text('technician = "M. Okafor-Lind"\n')
    assert tablet.run(kit / "install").returncode == 0
    assert (tablet.data / "jobs/one").read_text() == "a job"
    assert "Okafor" in (tablet.data / "tablet.toml").read_text()
    assert len(list(tablet.program.glob("app-*"))) == 1


def test_an_older_version_is_refused_unless_it_is_asked_for(kit, tablet):
    install(tablet, kit)
    (tablet.program / "version").write_text("9.0.0+abc\n")
    said = tablet.run(kit / "install")
    assert said.returncode == 1 and "older" in said.stderr
    assert tablet.run(kit / "install", "--older").returncode == 0


def test_removing_leaves_the_jobs_and_says_where(kit, tablet):
    install(tablet, kit, "--start-at-login")
    (tablet.data / "jobs").mkdir()
    said = tablet.run(tablet.program / "remove")
    assert said.returncode == 0 and str(tablet.data) in said.stdout
    assert (tablet.data / "jobs").exists() and not tablet.program.exists()
    assert list(tablet.home.rglob("evidence-app.desktop")) == []
