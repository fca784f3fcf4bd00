"""Checking while it runs: progress, stopping, browsers that can do less, disks that vanish."""

from __future__ import annotations

import shutil
import zlib
from pathlib import Path

import pytest

from evidence_app.package.keys.timestamp import attach_token, make_request
from tests.checker.conftest import Checker, check
from tests.hostile import zips
from tests.hostile.bag import Bag
from tests.package.conftest import TimeAuthority

WITHOUT_ED25519 = """
    const known = crypto.subtle.importKey.bind(crypto.subtle);
    crypto.subtle.importKey = (format, data, algorithm, ...rest) =>
        algorithm === "Ed25519" || algorithm.name === "Ed25519"
            ? Promise.reject(new DOMException("unknown", "NotSupportedError"))
            : known(format, data, algorithm, ...rest);
    delete window.Worker;
"""


@pytest.fixture(scope="module")
def large(sound, tmp_path_factory) -> Path:
    """A package with one photo of 150 MB, not the listed one and so failing in the end."""
    bag = Bag.read(sound[0])
    path = tmp_path_factory.mktemp("large") / "large.zip"
    bag.files[bag.first("data/photos/")] = b"\xff\xd8" + b"\0" * 150_000_000
    path.write_bytes(bag.zip())
    return path


def open_with(browser, script: str) -> Checker:
    page = browser.new_page()
    page.add_init_script(script)
    return Checker(page)


def test_work_is_done_beside_the_page(checker, large):
    with checker.page.expect_worker():
        checker.page.set_input_files("#package", large)
    checker.page.get_by_role("button", name="Stop checking").click()


def test_progress_moves_and_can_be_stopped(checker, large):
    checker.page.set_input_files("#package", large)
    checker.page.wait_for_function("() => document.getElementById('working-bar').value > 0.05")
    assert "checksums" in checker.page.locator("#working-words").inner_text()
    checker.page.get_by_role("button", name="Stop checking").click()
    assert "Nothing was judged" in checker.page.locator("#said").inner_text()
    assert checker.page.evaluate("() => window.checkResult") is None
    assert not checker.page.locator("#working").is_visible()


def test_another_package_can_be_given_while_one_is_checked(checker, large, sound):
    checker.page.set_input_files("#package", large)
    assert checker.give(sound[0])["package"] == sound[0].name


def test_browser_without_ed25519_leaves_the_seal_unchecked(browser, sound):
    checker = open_with(browser, WITHOUT_ED25519)
    result = checker.give(sound[0])
    assert check(result, "seal")["outcome"] == "not checked"
    assert check(result, "key")["outcome"] == "not checked"
    assert result["verdict"] == "not checked"
    assert "anybody may have made" in result["overall"]
    assert checker.page.locator("#browser").is_visible()
    checker.page.close()


def test_browser_without_ed25519_still_sees_an_altered_seal(browser, sound, tmp_path):
    bag = Bag.read(sound[0])
    bag.files["seal.json"] = bag.files["seal.json"].replace(b"H7-004211", b"H7-004212")
    path = tmp_path / "edited.zip"
    path.write_bytes(bag.zip())
    checker = open_with(browser, WITHOUT_ED25519)
    assert checker.give(path)["failed"] == ["seal"]
    checker.page.close()


def test_browser_without_workers_checks_on_the_page(browser, sound):
    checker = open_with(browser, "delete window.Worker;")
    assert checker.give(sound[0])["verdict"] == "holds"
    checker.page.close()


def test_file_that_changes_while_it_is_checked_is_unreadable(checker, large, tmp_path):
    changing = tmp_path / "changing.zip"
    shutil.copyfile(large, changing)
    checker.page.set_input_files("#package", changing)
    changing.write_bytes(b"something else")
    result = checker.result()
    assert result["verdict"] == "unreadable"
    assert "changed, moved" in result["overall"]


def test_time_token_is_read_and_its_signer_left_open(checker, sound, tmp_path):
    package = tmp_path / sound[0].name
    package.write_bytes(sound[0].read_bytes())
    authority = TimeAuthority(tmp_path / "authority")
    attach_token(package, authority.answer(make_request(package)))
    bracket = check(checker.give(package), "time-bracket")
    assert bracket["outcome"] == "not checked"
    assert any("time token says" in item for item in bracket["items"])


def test_time_token_for_another_seal_fails(checker, sound, stopped, tmp_path):
    authority = TimeAuthority(tmp_path / "authority")
    bag = Bag.read(sound[0])
    bag.files["seal.tsr"] = authority.answer(make_request(stopped))
    path = tmp_path / "other.zip"
    path.write_bytes(bag.zip())
    assert checker.give(path)["failed"] == ["time-bracket"]


def test_crc_is_left_to_other_tools(checker, sound, tmp_path):
    """The format says so: the checksums of the manifest say more."""
    bag = Bag.read(sound[0])
    entries = bag.entries()
    entries[0].both(crc=zlib.crc32(b"other"))
    path = tmp_path / sound[0].name
    path.write_bytes(zips.write(entries))
    assert checker.give(path)["failed"] == []
