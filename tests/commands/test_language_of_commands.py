"""Errors, checks and answers are told in the language asked for; a person's words stay as they are."""

from __future__ import annotations

import json

import pytest

from evidence_app import language
from evidence_app.package.verify.result import CHECK_NAMES
from tests.commands.bench import good_photo
from tests.making import make_package

# Words that are also words or places of the catalogues.
TECHNICIAN, CLAIM, SERIAL, NOTE, REASON = "Rückstand", "{claim}", "residue", "stopped", "clear %s"


@pytest.fixture(autouse=True)
def english_afterwards():
    yield
    language.use("en")


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("package")).path


def test_an_error_is_told_in_the_language_asked_for(terminal):
    assert "there is no such file or folder" in terminal.refuses("--language en verify gone.zip")
    assert "Den Namen prüfen." in terminal.refuses("--language de verify gone.zip")


def test_the_systems_language_is_taken_when_none_is_asked_for(terminal, monkeypatch):
    monkeypatch.setenv("LANGUAGE", "de")
    assert "diese Datei gibt es nicht" in terminal.refuses("steps show gone.toml")


def test_checks_and_their_outcomes_are_told_in_german_and_their_names_stay(terminal, package):
    german = terminal.does(f"--language de verify {package}")
    english = terminal.does(f"--language en verify {package}")
    for said, outcomes in ((english, ("holds", "not checked")), (german, ("besteht", "nicht geprüft"))):
        told = [line for line in said.splitlines()[3:] if line[2:3].strip()]
        begins = [next(each for each in outcomes if line.strip().startswith(each)) for line in told]
        names = [
            line.strip().removeprefix(begin).split()[0] for line, begin in zip(told, begins, strict=True)
        ]
        assert names == list(CHECK_NAMES)
    assert "the report is exactly what journal and originals give" in english
    assert "the report is exactly what journal and originals give" not in german


def test_what_this_machine_has_is_told_in_the_language_asked_for(terminal):
    said = {each: terminal.type(f"--language {each} ready").output for each in language.LANGUAGES}
    assert "Screen" in said["en"] and "Bildschirm" in said["de"]


@pytest.mark.parametrize(
    ("spoken", "said"),
    [("en", "2 bytes follow the end of the archive"), ("de", "2 Byte folgen auf das Ende des Archivs")],
)
def test_what_is_wrong_with_an_archive_is_told(terminal, package, tmp_path, spoken, said):
    longer = tmp_path / "longer.zip"
    longer.write_bytes(package.read_bytes() + b"..")
    assert said in terminal.refuses(f"--language {spoken} verify {longer}", 1)


def test_json_is_the_same_in_every_language(terminal, package):
    said = [
        json.loads(terminal.does(f"--language {each} verify --json {package}"))
        for each in language.LANGUAGES
    ]
    assert said[0] == said[1]


def test_a_photo_that_cannot_be_measured_is_told_in_whole_sentences(terminal, tmp_path):
    (tmp_path / "photo.jpg").write_bytes(good_photo())
    told = terminal.refuses("--language de measure photo gap photo.jpg")
    assert "Keine Maßkarte ist im Bild zu sehen. Die Maßkarte flach" in told and told.endswith(".\n")


def test_what_is_owed_is_named_in_german(opened):
    shown = opened.does("--language de job show job")
    assert "noch zu tun: Haltezeit: " in shown and "noch zu tun: Messwert leaf: " in shown


@pytest.mark.parametrize(
    ("spoken", "said"),
    [("en", "was altered; its content now has the hash"), ("de", "wurde verändert; sein Inhalt hat jetzt")],
)
def test_an_original_that_was_altered_is_told_of_a_job(opened, tmp_path, spoken, said):
    (tmp_path / "photo.jpg").write_bytes(good_photo())
    opened.does("job photo job - file:photo.jpg")
    original = next((tmp_path / "job" / "originals").rglob("*.jpg"))
    original.chmod(0o644)
    original.write_bytes(original.read_bytes()[:-1] + b"?")
    assert said in opened.refuses(f"--language {spoken} job show job", 1)


@pytest.mark.parametrize("spoken", language.LANGUAGES)
def test_a_persons_words_appear_unchanged(opened, tmp_path, spoken):
    says = f"--language {spoken}"
    open_it = f"job open list.toml --serial {SERIAL} --technician {TECHNICIAN} --folder mine"
    opened.does(f"{says} {open_it} --claim '{CLAIM}'")
    opened.does(f"{says} job note mine --text {NOTE}")
    shown = opened.does(f"{says} job show mine")
    assert SERIAL in shown and CLAIM in shown
    opened.does(f"{says} job abandon mine '{REASON}'")
    opened.does("keys make key.pem --unencrypted")
    opened.does(f"{says} seal mine --key key.pem --out out")
    (package,) = (tmp_path / "out").glob("*.zip")
    assert f"claim {CLAIM}, serial {SERIAL}" in opened.does(f"--language en verify '{package}'")
    told = opened.does(f"{says} verify '{package}'")
    assert CLAIM in told and SERIAL in told
    opened.does(f"{says} desk intake '{package}' --by '{TECHNICIAN}'")
    told = opened.does(f"{says} desk show 1")
    assert all(word in told for word in (TECHNICIAN, CLAIM, SERIAL))
