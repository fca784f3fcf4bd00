"""The desk's page as it is used: the command serves it, a browser opens it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.register import Register
from tests.making import make_key, make_package

CHROMIUM = next((p for p in ("/usr/bin/chromium", "/snap/bin/chromium") if Path(p).exists()), None)


@pytest.fixture(scope="session")
def packages(tmp_path_factory):
    """A completed job, a stopped one with other photos, and the first with a photo altered."""
    folder = tmp_path_factory.mktemp("packages")
    completed = make_package(folder / "one").path
    other = {"claim": "NQ-2026-0200", "key": make_key(2), "photo_size": (128, 96)}
    stopped = make_package(folder / "two", outcome="stopped", **other).path
    altered = folder / "altered.zip"
    data = bytearray(completed.read_bytes())
    at = data.index(b"\xff\xd8\xff") + 400
    data[at] ^= 1
    altered.write_bytes(bytes(data))
    return completed, stopped, altered


@pytest.fixture
def home(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def register(tmp_path, packages):
    """A register with the three packages in it."""
    register = Register(tmp_path / "desk" / "register.db")
    intake = Intake(register, Desk("desk 2"))
    for package in packages:
        intake.take(Path(shutil.copy(package, tmp_path)))
    return register


@pytest.fixture
def serve(home):
    """Starts the command; gives its first line, which is the address."""
    running = []

    def start(*words: object) -> str:
        command = [Path(sys.executable).with_name("evidence-app"), "desk", *map(str, words)]
        environment = os.environ | {"EVIDENCE_APP_HOME": str(home), "LANGUAGE": "en"}
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
        )
        running.append(process)
        return process.stdout.readline().strip()

    yield start
    for process in running:
        process.terminate()
        process.communicate(timeout=30)


# Closed with its module: two drivers cannot run at once, and other rooms have theirs.
@pytest.fixture(scope="module")
def chromium():
    with sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-quic", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@pytest.fixture
def opened(chromium, serve, register):
    """Opens the page of the register; what its console says of its scripts is an error."""
    contexts, told = [], []

    def open_page(**given):
        address = serve("--no-browser", "--by", "desk 2", "--register", register.path)
        context = chromium.new_context(**{"viewport": {"width": 1280, "height": 800}} | given)
        context.set_default_timeout(60_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: told.append(message.text))
        page.on("pageerror", lambda error: told.append(str(error)))
        page.goto(address)
        return page

    yield open_page
    for context in contexts:
        context.close()
    # A refusal (409) is an answer of the page, not trouble of its scripts.
    assert not [text for text in told if "status of 409" not in text]
