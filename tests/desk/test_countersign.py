"""Countersignatures: bound to the seal, verifiable by others, never replaced."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from evidence_app.desk import countersign
from evidence_app.desk.contents import read_contents
from evidence_app.desk.countersign import paths_of, read_all
from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.review import open_review, sign_review
from evidence_app.desk.search import find, show
from evidence_app.errors import PackageError
from tests.hostile.make import ATTACKS, build
from tests.making import SUPERVISOR, make_key

KEY = make_key(40)


@pytest.fixture
def package(stopped, tmp_path):
    path = tmp_path / stopped.name
    shutil.copy(stopped, path)
    return path


def sign(package, decision="agree", reason="", register=None):
    return sign_review(open_review(package), decision, reason, SUPERVISOR, KEY, register)


def found(package):
    return read_all(package, read_contents(package).seal_sha256)


def test_openssl_verifies_a_countersign(package):
    path, signature, key = paths_of(package, sign(package).content.number)
    command = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", key, "-rawin"]
    said = subprocess.run([*command, "-in", path, "-sigfile", signature], capture_output=True)
    assert said.returncode == 0


def test_package_itself_is_not_touched(package):
    before = package.read_bytes()
    sign(package)
    assert package.read_bytes() == before


def test_agreeing_confirms_the_disposition_of_this_seal(package):
    content = sign(package).content
    assert content.disposition == "Exchange the whole unit."
    assert content.seal_sha256 == read_contents(package).seal_sha256
    assert (content.supervisor, content.decision) == (SUPERVISOR, "agree")


def test_countersigns_continue_each_other(package):
    first = sign(package, "ask-for-more", "a photo of the rim")
    second = sign(package)
    assert second.content.previous_sha256 == first.sha256
    assert [each.problems for each in found(package)] == [(), ()]


@pytest.mark.parametrize("decision", ["ask-for-more", "disagree"])
def test_reason_is_needed(package, decision):
    with pytest.raises(PackageError, match="needs a reason"):
        sign(package, decision)


def test_changed_word_is_found(package):
    path = sign(package, "disagree", "the residue is a reflection").path
    path.write_bytes(path.read_bytes().replace(b"disagree", b"agree"))
    assert "its signature does not hold" in map(str, found(package)[0].problems)


def test_countersign_of_another_package_is_found(package, completed, tmp_path):
    sign(package)
    other = tmp_path / completed.name
    shutil.copy(completed, other)
    for mine, theirs in zip(paths_of(package, 1), paths_of(other, 1), strict=True):
        shutil.copy(mine, theirs)
    assert any("another seal" in str(problem) for problem in found(other)[0].problems)


def test_removed_countersign_is_found(package):
    sign(package, "disagree", "the residue is a reflection")
    sign(package)
    for path in paths_of(package, 1):
        path.unlink()
    assert any("is missing" in str(problem) for problem in found(package)[0].problems)
    with pytest.raises(PackageError, match="not sound"):
        sign(package)


def test_key_beside_it_that_accepts_anything_is_found(package):
    sign(package)
    short = "MCowBQYDK2VwAyEAAQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA="
    pem = f"-----BEGIN PUBLIC KEY-----\n{short}\n-----END PUBLIC KEY-----\n"
    paths_of(package, 1)[2].write_text(pem)
    assert any("short order" in str(problem) for problem in found(package)[0].problems)


def test_failing_package_cannot_be_agreed_with(stopped, tmp_path):
    path = build(ATTACKS["photo-byte-altered"], stopped, tmp_path).path
    with pytest.raises(PackageError, match="cannot be agreed with"):
        sign(path)
    assert sign(path, "disagree", "a photo was altered").content.decision == "disagree"


def test_package_without_a_sound_seal_cannot_be_reviewed(stopped, tmp_path):
    attack = next(a for a in ATTACKS.values() if a.check == "seal")
    with pytest.raises(PackageError, match="seal does not hold"):
        open_review(build(attack, stopped, tmp_path).path)


def test_countersign_is_entered_in_the_register(register, intake, package):
    number = intake.take(package).package
    sign(package, "ask-for-more", "a photo of the rim", register)
    event = show(register, number).events[-1]
    assert (event["kind"], event["decision"], event["by"]) == ("countersigned", "ask-for-more", SUPERVISOR)


def test_countersign_made_elsewhere_is_entered_once_at_intake(register, package):
    sign(package)
    intake = Intake(register, Desk("desk 2"))
    for _ in range(2):
        number = intake.take(package).package
    kinds = [event["kind"] for event in show(register, number).events]
    assert kinds == ["received", "countersigned", "received-again"]
    assert len(find(register)) == 1


def test_existing_countersign_is_never_replaced(package):
    first = sign(package)
    before = first.path.read_bytes()
    sign(package, "disagree", "on second thoughts")
    assert first.path.read_bytes() == before
    assert countersign.paths_of(package, 2)[0].exists()
