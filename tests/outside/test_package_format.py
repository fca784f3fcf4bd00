"""The format page: its lines accept a sound package and refuse an altered one.

Tools: Info-ZIP unzip, GNU coreutils, OpenSSL, the bagit library of the Library of
Congress (RFC 8493), Python's standard library. None of the app's code checks here.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from evidence_app.job.vocabulary import BODIES
from evidence_app.locations import asset
from evidence_app.package.keys.handover import Handover
from evidence_app.package.layout import Seal
from evidence_app.package.verify.result import CHECK_NAMES
from tests.hostile.bag import INSIDER, Bag
from tests.hostile.make import sound_package
from tests.hostile.on_handover import NEW, handed_over, statement

PAGE = asset("package-format.md").read_text("utf-8")
BLOCKS = re.findall(r"```(sh|python)\n(.*?)```", PAGE, re.DOTALL)
UNPACK, *INSIDE = BLOCKS
SHELL_SEAL = next(code for _, code in INSIDE if "pkeyutl" in code)
SHELL_SUMS = next(code for _, code in INSIDE if "sha256sum -c" in code)
SHELL_HANDOVER = next(code for _, code in INSIDE if "handover-*" in code)
SHELL_EXTRA = next(code for _, code in INSIDE if "comm -23" in code)
CHAIN = next(code for language, code in INSIDE if language == "python")


def run(language: str, code: str, folder: Path) -> subprocess.CompletedProcess:
    command = {"sh": ["sh", "-e", "-c"], "python": [sys.executable, "-c"]}[language]
    beside = {"PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"}
    return subprocess.run([*command, code], cwd=folder, capture_output=True, text=True,
                          env=os.environ | beside)  # fmt: skip


@pytest.fixture(scope="module")
def package(tmp_path_factory) -> Path:
    return sound_package(tmp_path_factory.mktemp("format"))[0]


@pytest.fixture
def bag(package, tmp_path) -> Path:
    with zipfile.ZipFile(package) as archive:
        archive.extractall(tmp_path)
    return tmp_path / package.stem


def test_unpacking_lines(package, tmp_path):
    (tmp_path / package.name).write_bytes(package.read_bytes())
    done = run(*UNPACK, tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / package.stem / "seal.json").exists()


@pytest.mark.parametrize(("language", "code"), INSIDE, ids=range(1, len(INSIDE) + 1))
def test_line_accepts_a_sound_package(bag, language, code):
    done = run(language, code, bag)
    assert done.returncode == 0, done.stdout + done.stderr


def flip(path: Path, at: int = 30) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)


@pytest.mark.parametrize("name", ["data/record.json", "bag-info.txt", "device-key.pem"])
def test_checksum_lines_refuse_an_altered_file(bag, name):
    flip(bag / name)
    assert run("sh", SHELL_SUMS, bag).returncode != 0


@pytest.mark.parametrize("name", ["seal.json", "seal.sig"])
def test_signature_line_refuses_an_altered_seal(bag, name):
    flip(bag / name)
    assert run("sh", SHELL_SEAL, bag).returncode != 0


@pytest.fixture
def handed_over_bag(package, tmp_path) -> Path:
    (tmp_path / package.name).write_bytes(handed_over(Bag.read(package), [statement(INSIDER, NEW)]).zip())
    with zipfile.ZipFile(tmp_path / package.name) as archive:
        archive.extractall(tmp_path)
    return tmp_path / package.stem


@pytest.mark.parametrize(("language", "code"), INSIDE, ids=range(1, len(INSIDE) + 1))
def test_line_accepts_a_package_of_a_key_handed_over_to(handed_over_bag, language, code):
    done = run(language, code, handed_over_bag)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("name", ["handover-1.json", "handover-1.sig"])
def test_handover_lines_refuse_an_altered_statement(handed_over_bag, name):
    assert "Verified Successfully" in run("sh", SHELL_HANDOVER, handed_over_bag).stdout
    flip(handed_over_bag / name)
    assert run("sh", SHELL_HANDOVER, handed_over_bag).returncode != 0


def test_page_names_every_field_of_a_handover():
    for field in Handover.__struct_encode_fields__:
        assert f"`{field}`" in PAGE


def test_listing_line_names_an_added_file(bag):
    (bag / "data" / "photos" / "more.jpg").write_bytes(b"x")
    done = run("sh", SHELL_EXTRA, bag)
    assert done.returncode != 0
    assert done.stdout.strip() == "data/photos/more.jpg"


def test_chain_lines_refuse_an_edited_event(bag):
    journal = bag / "data" / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b'"value":"120"', b'"value":"121"'))
    done = run("python", CHAIN, bag)
    assert done.returncode != 0
    assert "broken at event" in done.stderr


def test_page_names_every_kind_of_event_with_its_fields():
    table = {}
    for line in re.findall(r"^\| (`[a-z-]+`(?:, `[a-z-]+`)*) \| (.*) \|$", PAGE, re.MULTILINE):
        for kind in re.findall(r"`([a-z-]+)`", line[0]):
            table[kind] = line[1]
    for kind, body in BODIES.items():
        for field in body.__struct_encode_fields__:
            assert f"`{field}`" in table[kind], f"{kind}: {field}"


def test_page_names_every_field_of_the_seal():
    for field in Seal.__struct_encode_fields__:
        assert f"`{field}`" in PAGE


def test_page_names_every_check():
    order = PAGE[PAGE.index("The order:") :].split("\n")[0]
    assert tuple(re.findall(r"`([a-z-]+)`", order)) == CHECK_NAMES
