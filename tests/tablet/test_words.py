"""The catalogue: every text of the screens is in it, with its places, in each language."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import read_mo
from babel.messages.pofile import read_po

import evidence_app.tablet
from evidence_app.locations import asset
from evidence_app.tablet.presenting import words

_ROOM = Path(evidence_app.tablet.__file__).parent
_KEYWORDS = {"say": None, "say_many": (1, 2), "mark": None}


@pytest.fixture(scope="module")
def texts():
    return [message for _, _, message, _, _ in extract_from_dir(str(_ROOM), keywords=_KEYWORDS)]


@pytest.fixture(scope="module", params=words.DOMAINS)
def domain(request):
    return request.param


@pytest.fixture(scope="module")
def german(domain):
    return _written(domain)


def _written(domain):
    return read_po(io.BytesIO(asset(f"locale/de/LC_MESSAGES/{domain}.po").read_bytes()))


def test_every_text_is_said_in_german(texts):
    said = {
        m.id[0] if m.pluralizable else m.id
        for domain in words.DOMAINS
        for m in _written(domain)
        if m.string
    }
    missing = [t for t in texts if (t[0] if isinstance(t, tuple) else t) not in said]
    assert not missing


def test_a_translation_has_the_places_of_its_text(german):
    for message in german:
        pairs = (
            zip(message.id, message.string, strict=True)
            if message.pluralizable
            else [(message.id, message.string)]
        )
        for text, said in pairs:
            assert set(re.findall(r"{\w+}", text)) == set(re.findall(r"{\w+}", said)), text


def test_the_compiled_catalogue_is_the_written_one(german, domain):
    compiled = read_mo(io.BytesIO(asset(f"locale/de/LC_MESSAGES/{domain}.mo").read_bytes()))
    assert _by_text(german) == _by_text(compiled)


def test_no_text_hides_in_a_formatted_string():
    """The extraction does not look into those, so such a text would never be translated."""
    for path in _ROOM.rglob("*.py"):
        assert not re.search(r"f([\"']).*\{(say|say_many|mark)\(", path.read_text("utf-8")), path


def test_layout_files_hold_no_text():
    for path in _ROOM.rglob("*.kv"):
        assert not re.search(r"^\s*text:", path.read_text("utf-8"), re.M), path


def test_the_language_in_use_speaks():
    words.use("de")
    try:
        assert words.say("Next step") == "Nächster Schritt"
        assert words.say_many("{count} photo", "{count} photos", 2) == "2 Fotos"
    finally:
        words.use("en")


def test_what_the_photo_gate_says_is_in_the_catalogue():
    from evidence_app.photo.gate.judge import judge
    from evidence_app.practice.camera import photograph

    said = set()
    for scene in (
        "front?seed=31",
        "front?seed=31&blur_px=12",
        "front?seed=31&glare=1",
        "front?seed=31&exposure=3",
        "front?seed=31&exposure=0.05",
    ):
        checks = judge(photograph(scene, "2026-03-02T08:15:00.000+01:00").data).checks
        said |= {check.sentence for check in checks}
    assert {s for s in said if _written("tablet").get(s) is None} == set()


def _by_text(catalogue):
    return {_first(message.id): _all(message.string) for message in catalogue if message.id}


def _first(text):
    return text if isinstance(text, str) else text[0]


def _all(said):
    return (said,) if isinstance(said, str) else tuple(said)


@pytest.fixture(scope="module")
def verdicts(tmp_path_factory):
    """What checking finds in a sound package and in one attack on every check."""
    from evidence_app.package.keys.keylist import open_key_list
    from evidence_app.package.verify.check import verify
    from tests.hostile.make import ATTACKS, build, sound_package

    folder = tmp_path_factory.mktemp("verdicts")
    package, key_list = sound_package(folder)
    attacks = {attack.check: attack for attack in ATTACKS.values() if attack.check}
    found = [build(attack, package, folder).path for attack in attacks.values()]
    known = open_key_list(key_list)
    return [verify(path, keys) for path in (package, *found) for keys in (known, None)]


def test_the_desk_says_every_verdict_and_check_in_german(verdicts):
    from evidence_app.tablet.presenting.from_below import told

    words.use("de")
    try:
        said = {
            text: told(text)
            for result in verdicts
            for text in (result.overall, *(check.sentence for check in result.checks))
        }
    finally:
        words.use("en")
    english = re.compile(r"\b(the|and|not|which|its)\b")
    assert len(said) > 20
    assert [text for text, german in said.items() if text == german or english.search(german)] == []


def test_a_list_of_known_words_is_said_word_by_word():
    from evidence_app.tablet.presenting.from_below import told

    words.use("de")
    try:
        assert told("the hold, the photo slot-floor") == "die Haltezeit, das Foto slot-floor"
        assert told("the hold, the moon") == "the hold, the moon"
    finally:
        words.use("en")
