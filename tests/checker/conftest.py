"""The checker page in a real browser, and packages to give to it."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, sync_playwright

from evidence_app.locations import asset
from evidence_app.package.keys.keylist import DEPOT_KEY_NAME, signature_path
from tests.hostile.make import sound_package
from tests.making import make_package

JUDGE = Path(__file__).with_name("judge.mjs")
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


class Checker:
    """The page as a clerk has it, and what it asked for and complained of."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.set_default_timeout(0)  # only the time limit of the whole test ends a wait
        self.asked: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(asset("checker.html").as_uri())

    def give(self, package: Path) -> dict[str, Any]:
        """Choose a package and wait for the result."""
        self.page.evaluate("() => { window.checkResult = null; }")
        self.page.set_input_files("#package", package)
        return self.result()

    def give_keys(self, files: list[Path]) -> None:
        self.page.set_input_files("#keys", files)
        self.page.wait_for_function(
            "() => document.getElementById('keys-given').textContent.startsWith('Key list given')"
        )

    def result(self) -> dict[str, Any]:
        self.page.wait_for_function("() => window.checkResult")
        return self.page.evaluate("() => window.checkResult")

    def part(self, code: str, argument: Any = None) -> Any:
        """Call one of the page's own parts."""
        return self.page.evaluate(code, argument)


def check(result: dict[str, Any], name: str) -> dict[str, Any]:
    return next(check for check in result["checks"] if check["name"] == name)


# Closed with its room: two drivers cannot run at once, and other rooms have theirs.
@pytest.fixture(scope="package")
def browser():
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield launched
        launched.close()


@pytest.fixture
def checker(browser):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    yield Checker(page)
    page.close()


@pytest.fixture(scope="module")
def shared(browser):
    """One page for tests that only read the result of a package: too low to load the report."""
    page = browser.new_page(viewport={"width": 1280, "height": 200})
    yield Checker(page)
    page.close()


@pytest.fixture(scope="module")
def core(request, trust_files) -> Callable[[Path], dict[str, Any]]:
    """The page's core, which has the depot's key list, judges a package: in node, which takes a
    twentieth of what a browser does, or where there is none in the browser."""
    if shutil.which("node") is None:
        shared = request.getfixturevalue("shared")
        shared.give_keys(trust_files)
        return shared.give
    command = ["node", JUDGE, asset("checker.html"), *trust_files]
    node = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    request.addfinalizer(lambda: (node.communicate(), node.wait()))

    def give(package: Path) -> dict[str, Any]:
        node.stdin.write(f"{package}\n")
        node.stdin.flush()
        told = json.loads(node.stdout.readline())
        assert "result" in told, told
        return told["result"]

    return give


@pytest.fixture(scope="session")
def sound(tmp_path_factory):
    """A sound package of a completed job with a ticket, and its depot's key list."""
    return sound_package(tmp_path_factory.mktemp("sound"))


@pytest.fixture(scope="session")
def trust_files(sound) -> list[Path]:
    """Key list, its signature and the depot's public key."""
    key_list = sound[1]
    return [key_list, signature_path(key_list), key_list.with_name(DEPOT_KEY_NAME)]


@pytest.fixture(scope="session")
def stopped(tmp_path_factory) -> Path:
    return make_package(tmp_path_factory.mktemp("stopped"), outcome="stopped").path


@pytest.fixture(scope="session")
def practice(tmp_path_factory) -> Path:
    return make_package(tmp_path_factory.mktemp("practice"), practice=True).path
