"""An error worded from the table beside its module finds its words there, with a value for every
place, and no words stand in a table that nothing says."""

from __future__ import annotations

import ast
from importlib import import_module
from pathlib import Path
from string import Formatter

import pytest

import evidence_app

_ROOT = Path(evidence_app.__file__).parent


def _worded(module: Path) -> list[tuple[str, str, set[str]]] | None:
    """Table, key and names of the values of each ``.worded`` call; None when one of them is not
    written out, so that it cannot be told from outside."""
    found = []
    for node in ast.walk(ast.parse(module.read_text("utf-8"))):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr == "worded"
        ):
            match node.args[0], [keyword.arg for keyword in node.keywords]:
                case ast.Subscript(ast.Name(table), ast.Constant(str(key))), values if None not in values:
                    found.append((table, key, {str(value) for value in values}))
                case _:
                    return None
    return found


_MODULES = {
    ".".join(("evidence_app", *path.relative_to(_ROOT).with_suffix("").parts)): calls
    for path in sorted(_ROOT.rglob("*.py"))
    if path.with_suffix(".words.toml").exists() and (calls := _worded(path))
}


def test_several_modules_are_looked_at() -> None:
    assert len(_MODULES) >= 5


@pytest.mark.parametrize("name", _MODULES)
def test_every_error_has_words_and_values_for_their_places(name: str) -> None:
    module = import_module(name)
    for table, key, values in _MODULES[name]:
        words = getattr(module, table)[key]
        places = {
            place
            for said in (words["what"], words["remedy"])
            for _, place, _, _ in Formatter().parse(said.template)
        }
        assert places - {None} == values, (table, key)


@pytest.mark.parametrize("name", _MODULES)
def test_every_word_is_said(name: str) -> None:
    module = import_module(name)
    for table in {table for table, _, _ in _MODULES[name]}:
        written = {key for key, words in getattr(module, table).items() if "what" in words}
        assert written == {key for of, key, _ in _MODULES[name] if of == table}
