"""The loader's own walk, the types' converter and the JSON Schema judge alike."""

from __future__ import annotations

import copy
import datetime
import tomllib

import jsonschema
import msgspec
import pytest

from evidence_app.steplist.form import form_defects
from evidence_app.steplist.model import StepList
from evidence_app.steplist.schema import step_list_schema
from tests.steplist.valid import VALID

WRONG = (5, -1, 0, 1.5, True, "text", "", " ", "a\n", "x" * 3000, [], {}, datetime.date(2026, 1, 1))
DELETED, ADDED = object(), object()


def changed_data(paths_with: tuple) -> list[tuple[str, dict]]:
    """VALID with one value replaced, deleted or joined by an unknown key; each in turn."""
    data = tomllib.loads(VALID)
    made = []
    for path in _paths(data):
        for value in paths_with:
            one = copy.deepcopy(data)
            owner = one
            for part in path[:-1]:
                owner = owner[part]
            if value is DELETED:
                del owner[path[-1]]
            elif value is ADDED:
                if not isinstance(owner[path[-1]], dict):
                    continue
                owner[path[-1]]["unheard-of"] = 1
            else:
                owner[path[-1]] = value
            made.append((f"{path} {value!r:.20}", one))
    return made


def _paths(value, path=()):
    items = value.items() if isinstance(value, dict) else ()
    items = enumerate(value) if isinstance(value, list) else items
    for key, inner in items:
        yield (*path, key)
        yield from _paths(inner, (*path, key))


def converts(data: dict) -> bool:
    try:
        msgspec.convert(data, StepList)
    except msgspec.ValidationError:
        return False
    return True


def test_form_is_sound_exactly_when_the_types_convert():
    differing = [
        name
        for name, data in changed_data((*WRONG, DELETED, ADDED))
        if (not form_defects(data)) != converts(data)
    ]
    assert differing == []


def test_schema_accepts_exactly_what_the_types_convert():
    validator = jsonschema.Draft202012Validator(step_list_schema())
    differing = [
        name
        for name, data in changed_data((5, "text", "a\n", [], DELETED, ADDED))
        if validator.is_valid(data) != converts(data)
    ]
    assert differing == []


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_numbers_that_are_none_are_refused_beyond_the_types(number):
    data = tomllib.loads(VALID)
    data["steps"][3]["readings"][0]["at-most"] = number
    assert len(form_defects(data)) == 1
