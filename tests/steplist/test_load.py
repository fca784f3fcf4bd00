"""Files that are no TOML text are refused in one sentence; good ones are read."""

from __future__ import annotations

import os

import pytest

from evidence_app.errors import StepListError
from evidence_app.limits import STEP_LIST_BYTES
from evidence_app.steplist.load import load, loads
from tests.steplist.valid import VALID, changed, line_of

TITLE_LINE = line_of('title = "Press"', VALID)

BAD_BYTES = {
    "empty": (b"", "lamp.toml: the file is empty"),
    "blank": (b" \n\t\n", "lamp.toml: the file is empty"),
    "too large": (b"#" * (STEP_LIST_BYTES + 1), "lamp.toml: the file is larger than 1,000,000 bytes"),
    "not UTF-8": (
        b'format = 1\ntitle = "Caf\xe9"\n',
        "lamp.toml, line 2: byte 23 (0xe9) is not UTF-8 text",
    ),
    "UTF-16": (VALID.encode("utf-16"), "lamp.toml, line 1: byte 0 (0xff) is not UTF-8 text"),
    "byte order mark": (
        VALID.encode("utf-8-sig"),
        "lamp.toml, line 1: the file begins with a byte order mark",
    ),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0", "lamp.toml, line 1: byte 0 (0x89) is not UTF-8 text"),
    "broken value": (
        changed('title = "Press"', "title = Press").encode(),
        f"lamp.toml, line {TITLE_LINE}: the file is not valid TOML: Invalid value at column 9",
    ),
    "key twice": (
        changed('title = "Press"', 'title = "Press"\ntitle = "Press"').encode(),
        f"lamp.toml, line {TITLE_LINE + 1}: the file is not valid TOML: Cannot overwrite a value",
    ),
    "cut off": (
        b'format = 1\ntitle = """The',
        "lamp.toml, line 2: the file is not valid TOML: Unterminated string at the end of the file",
    ),
    "number of too many digits": (
        b"format = " + b"1" * 5000,
        "lamp.toml, line 1: the file is not valid TOML: Exceeds the limit",
    ),
    "nested too deeply": (
        b"format = " + b"[" * 100_000,
        "lamp.toml: arrays or tables are nested too deeply",
    ),
    "other TOML": (b'[project]\nname = "x"\n', 'lamp.toml, line 1, key project: unknown key "project"'),
}


@pytest.mark.parametrize(("data", "sentence"), BAD_BYTES.values(), ids=BAD_BYTES)
def test_bytes_that_are_no_step_list_are_refused(data, sentence):
    with pytest.raises(StepListError) as caught:
        loads(data, "lamp.toml")
    assert caught.value.sentence().startswith(sentence)
    assert all(problem.remedy for problem in caught.value.problems)


def test_deep_nesting_that_the_parser_accepts_is_refused_as_a_wrong_value():
    with pytest.raises(StepListError) as caught:
        loads(b"format = " + b"[" * 150 + b"]" * 150 + b"\n", "lamp.toml")
    assert "expected 1, found an array" in caught.value.sentence()


def test_file_is_read(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(VALID, encoding="utf-8")
    assert load(path) == load(str(path)) == loads(VALID.encode(), "lamp.toml")


def test_line_ends_of_windows_are_accepted():
    assert loads(VALID.replace("\n", "\r\n").encode(), "x") == loads(VALID.encode(), "x")


def test_lines_are_counted_with_line_ends_of_windows():
    text = changed("scan = true", "scan = 1")
    with pytest.raises(StepListError) as caught:
        loads(text.replace("\n", "\r\n").encode(), "lamp.toml")
    assert f"lamp.toml, line {line_of('scan = 1', text)}," in caught.value.sentence()


def test_missing_file_is_refused(tmp_path):
    with pytest.raises(StepListError, match=r"none\.toml: there is no such file"):
        load(tmp_path / "none.toml")


def test_folder_is_refused(tmp_path):
    with pytest.raises(StepListError, match="this is a folder"):
        load(tmp_path)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read every file")
def test_file_without_permission_is_refused(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(VALID)
    path.chmod(0)
    with pytest.raises(StepListError, match="cannot be read"):
        load(path)


def test_huge_file_is_refused_without_being_read_whole(tmp_path):
    path = tmp_path / "lamp.toml"
    with path.open("wb") as file:
        file.truncate(1 << 40)  # sparse: reading it all would take a terabyte of memory
    with pytest.raises(StepListError):
        load(path)


def test_file_that_reads_with_an_error_is_refused():
    if not os.path.exists("/proc/self/mem"):
        pytest.skip("needs a file that opens and then fails to read")
    with pytest.raises(StepListError, match="cannot be read"):
        load("/proc/self/mem")
