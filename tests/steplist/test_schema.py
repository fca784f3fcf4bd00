"""The shipped JSON Schema is the generated one, valid, and of use to an editor."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib

import jsonschema
import pytest

from evidence_app.locations import asset, sample
from evidence_app.steplist.schema import schema_bytes, write_schema
from tests.steplist.valid import VALID, changed

SAMPLES = (
    "ossmere-h7-window-rebond",
    "ossmere-h7-window-rebond-cellular",
    "ossmere-h7-bail-stand-exchange",
)


@pytest.fixture(scope="module")
def shipped() -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(json.loads(asset("step-list.schema.json").read_bytes()))


def test_shipped_schema_is_the_generated_one():
    assert asset("step-list.schema.json").read_bytes() == schema_bytes()


def test_shipped_schema_is_valid_draft_2020_12(shipped):
    assert shipped.schema["$schema"] == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(shipped.schema)


@pytest.mark.parametrize("name", SAMPLES)
def test_shipped_schema_accepts_the_sample(shipped, name):
    data = tomllib.loads(sample(f"{name}.toml").read_text("utf-8"))
    assert [error.message for error in shipped.iter_errors(data)] == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('signal = "WARNING"', 'signal = "ALERT"'),
        ("at-least-s = 10", "at-least-s = 0"),
        ('picture = "identify.png"', 'pictuer = "identify.png"'),
        ('version = "1.0"\n', ""),
    ],
    ids=["unknown word", "hold of no time", "unknown key", "missing key"],
)
def test_shipped_schema_refuses_a_bad_list(shipped, old, new):
    assert not shipped.is_valid(tomllib.loads(changed(old, new)))


def test_shipped_schema_accepts_the_valid_base(shipped):
    assert shipped.is_valid(tomllib.loads(VALID))


def test_schema_is_written_to_a_file(tmp_path):
    write_schema(tmp_path / "out.json")
    assert (tmp_path / "out.json").read_bytes() == schema_bytes()


def test_schema_is_written_by_its_command(tmp_path):
    command = [sys.executable, "-m", "evidence_app.steplist.schema", str(tmp_path / "out.json")]
    subprocess.run(command, check=True)
    assert (tmp_path / "out.json").read_bytes() == schema_bytes()
