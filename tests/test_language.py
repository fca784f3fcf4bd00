"""The catalogues: every template of every room is in them, with its places, in each language."""

from __future__ import annotations

import ast
import importlib.util
import io
import re
import string
import tomllib
from pathlib import Path

import pytest
from babel.messages.mofile import read_mo
from babel.messages.pofile import read_po

import evidence_app
from evidence_app import language
from evidence_app.errors import EvidenceError
from evidence_app.locations import asset
from evidence_app.sentence import NOTHING, sentence
from evidence_app.steplist.load import loads

_PACKAGE = Path(evidence_app.__file__).parent
_TABLES = [_PACKAGE / "tablet/presenting" / name for name in ("notices.toml", "voice.toml")]


def _builder():
    path = asset("locale/build.py")
    spec = importlib.util.spec_from_file_location("locale_build", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


BUILD = _builder()


@pytest.fixture(scope="module")
def texts():
    return BUILD.texts()


def _written(room):
    return read_po(io.BytesIO(asset(f"locale/de/LC_MESSAGES/{room}.po").read_bytes()))


def test_every_text_is_said_in_german(texts):
    missing = {}
    for room, wanted in texts.items():
        said = {_first(m.id) for m in _written(room) if m.id and all(_all(m.string))}
        missing[room] = sorted(wanted.keys() - said)
    assert not {room: found for room, found in missing.items() if found}


@pytest.mark.parametrize("word", ["Laufschein", "Ticket", "Ereignis", "Maßstabkarte", "Abbruchregel"])
def test_one_german_word_for_one_thing(texts, word):
    """Words that stood beside the term of DEVELOPERS.md."""
    said = [form for room in texts for message in _written(room) for form in _all(message.string)]
    assert not [form for form in said if word in form]


def test_a_translation_has_the_places_of_its_text(texts):
    for room in texts:
        for message in _written(room):
            forms = _all(message.id)
            for said in _all(message.string):
                assert _places(said) == _places(forms[-1]) or _places(said) == _places(forms[0])


def _places(text):
    return {(name, spec) for _, name, spec, _ in string.Formatter().parse(text) if name}


def test_the_compiled_catalogue_is_the_written_one(texts):
    for room in texts:
        compiled = read_mo(io.BytesIO(asset(f"locale/de/LC_MESSAGES/{room}.mo").read_bytes()))
        assert _by_text(_written(room)) == _by_text(compiled)


def test_no_text_hides_where_the_extraction_does_not_look():
    """A formatted string or a name in the place of the template would never be translated."""
    hidden = []
    for path in _PACKAGE.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        ours = _imported_from(tree, {"evidence_app.sentence", "evidence_app.language"})
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                name = node.func.id if node.func.id in ours else ""
                count = {"sentence": 1, "mark": 1, "counted": 2}.get(name, 0)
                if any(not _literal(each) for each in node.args[:count]):
                    hidden.append(f"{path.relative_to(_PACKAGE)}:{node.lineno}")
    assert not hidden


def test_every_text_that_is_said_is_in_the_catalogue(texts):
    """The extraction reads no call within a formatted string, so none may stand there."""
    known = {text for room in texts.values() for text in room}
    unknown = []
    for path in _PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                said = node.func.id in ("say", "say_many", "mark", "sentence", "counted", "tell_user")
                if said and node.args and _literal(node.args[0]) and node.args[0].value not in known:
                    unknown.append(f"{path.relative_to(_PACKAGE)}:{node.lineno}")
    assert not unknown


@pytest.mark.parametrize("path", _TABLES, ids=lambda path: path.name)
def test_a_text_of_a_table_is_said_in_german(path):
    """The extraction reads tables of texts too, all but the names in them."""
    written = tomllib.loads(path.read_text("utf-8"))
    english = [text for name, text in _leaves(written) if text and name not in ("key", "shape", "press")]
    with language.speaking("de"):
        assert not [text for text in english if language.say(text) == text]


def _leaves(table):
    for name, value in table.items():
        yield from _leaves(value) if isinstance(value, dict) else ((name, value),)


def test_no_error_is_worded_in_plain_text():
    """``what`` and ``remedy`` are sentences, so that each can be said in another language."""
    trees = {path: ast.parse(path.read_text("utf-8")) for path in _PACKAGE.rglob("*.py")}
    family = {"EvidenceError", "error"}  # "error" is how a parameter for one of the classes is named
    classes = [node for tree in trees.values() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    for _ in classes:  # as often as a chain of classes can be long
        family |= {c.name for c in classes if family & {ast.unparse(base) for base in c.bases}}
    assert {"Refused", "DiskGone", "TooLarge"} <= family
    plain = []
    for path, tree in trees.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in family - {
                "CannotMeasure"
            }:
                worded = [*node.args[:1], *(k.value for k in node.keywords if k.arg in ("what", "remedy"))]
                if any(isinstance(each, ast.JoinedStr) or _literal(each) for each in worded):
                    plain.append(f"{path.relative_to(_PACKAGE)}:{node.lineno}")
    assert not plain


@pytest.mark.parametrize("worded", [("a text", NOTHING), (sentence("a sentence"), "a text")])
def test_an_error_takes_sentences_only(worded):
    what, remedy = worded
    with pytest.raises(TypeError):
        EvidenceError(what, remedy=remedy)


def test_a_step_lists_defects_are_told_in_german():
    with pytest.raises(EvidenceError) as caught:
        loads(b'format = 1\nresidue = "R\xc3\xbcckstand"', "residue.toml")
    with language.speaking("de"):
        told = caught.value.sentence(say=language.say)
    assert "residue.toml, Zeile 2, Schlüssel residue: unbekannter Schlüssel „residue“." in told
    assert "der nötige Schlüssel „steps“ fehlt" in told


def _imported_from(tree, modules):
    return {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module in modules
        for alias in node.names
    }


def _literal(node):
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def test_layout_files_hold_no_text():
    for path in _PACKAGE.rglob("*.kv"):
        assert not re.search(r"^\s*text:", path.read_text("utf-8"), re.M), path


def test_the_language_in_use_speaks():
    with language.speaking("de"):
        assert language.say("Next step") == "Nächster Schritt"
        assert language.say_many("{count} photo", "{count} photos", 2) == "2 Fotos"
        assert language.say(sentence("Next step")) == "Nächster Schritt"
    assert language.say("Next step") == "Next step"


@pytest.mark.parametrize(
    ("environment", "spoken"),
    [
        ({"LANG": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "fr_FR.UTF-8"}, "en"),
        ({"LANGUAGE": "de:en", "LANG": "en_GB.UTF-8"}, "de"),
        ({}, "en"),
    ],
)
def test_the_system_names_the_language(monkeypatch, environment, spoken):
    for name in ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert language.of_the_system() == spoken


def _by_text(catalogue):
    return {_first(message.id): _all(message.string) for message in catalogue if message.id}


def _first(text):
    return text if isinstance(text, str) else text[0]


def _all(said):
    return (said,) if isinstance(said, str) else tuple(said)
