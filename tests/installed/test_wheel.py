"""The app as it is installed, from a folder that has nothing of the checkout.

In the continuous run this is the built wheel; with the README's command it is the checkout.
"""

from __future__ import annotations

import re
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest

from evidence_app import locations


def app(folder: Path, *words: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-P", "-m", "evidence_app.cli", *words], cwd=folder, capture_output=True, text=True
    )


@pytest.mark.parametrize(
    "name",
    [
        "checker.html",
        "measuring.md",
        "package-format.md",
        "step-list.schema.json",
        "sounds/hold-over.wav",
        "locale/de/LC_MESSAGES/tablet.mo",
    ],
)
def test_an_asset_is_there(name):
    assert locations.asset(name).stat().st_size > 0


def test_every_sample_of_the_demo_is_there():
    for name in ("completed", "stopped-at-residue", "power-loss", "retaken-and-gauged"):
        assert locations.sample(f"{name}.session.toml").is_file()


@pytest.mark.parametrize("name", ["window-rebond", "window-rebond-cellular", "bail-stand-exchange"])
def test_a_sample_step_list_is_good_and_has_its_pictures(tmp_path, name):
    path = locations.sample(f"ossmere-h7-{name}.toml")
    assert path.read_text("utf-8").count("[[steps.pictures]]") > 8
    said = app(tmp_path, "steps", "check", str(path))
    assert said.returncode == 0, said.stderr


@pytest.mark.skipif(
    (Path(locations.__file__).parents[1] / "pyproject.toml").exists(),
    reason="of a checkout: its demo is played in another folder by tests/test_documents.py",
)
def test_the_demo_is_played_in_any_folder(tmp_path):
    said = app(tmp_path, "demo")
    assert said.returncode == 0, said.stdout + said.stderr
    assert len(list((tmp_path / "demo-packages").glob("*.zip"))) == 4


def test_the_version_names_the_commit(tmp_path):
    said = app(tmp_path, "--version").stdout
    told = re.escape(version("evidence-app"))
    assert re.fullmatch(rf"evidence-app, version {told}\+[0-9a-f]{{12}}(\.changed)?\n", said)


def test_german_is_spoken(tmp_path):
    code = "from evidence_app.language import say, use; use('de'); print(say('Back'))"
    said = subprocess.run([sys.executable, "-P", "-c", code], cwd=tmp_path, capture_output=True, text=True)
    assert said.stdout == "Zurück\n"
