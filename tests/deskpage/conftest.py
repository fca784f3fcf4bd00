"""The desk's page as it is used: the command serves it, a browser opens it."""

from __future__ import annotations

import http.client
import os
import shutil
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode, urlsplit

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


@pytest.fixture(scope="session")
def taken_in(tmp_path_factory, packages):
    """The folder of a register with the three packages in it, and the folder they lie in."""
    folder = tmp_path_factory.mktemp("received")
    intake = Intake(Register(folder / "desk" / "register.db"), Desk("desk 2"))
    (folder / "packages").mkdir()
    for package in packages:
        intake.take(Path(shutil.copy(package, folder / "packages")))
    return folder / "desk", folder / "packages"


@pytest.fixture
def register(tmp_path, taken_in):
    """A register with the three packages in it, of the test's own."""
    shutil.copytree(taken_in[0], tmp_path / "desk")
    before = set(taken_in[1].iterdir())
    yield Register(tmp_path / "desk" / "register.db")
    for written in set(taken_in[1].iterdir()) - before:
        shutil.rmtree(written) if written.is_dir() else written.unlink()


@contextmanager
def serving(home: Path):
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


@pytest.fixture
def serve(home):
    with serving(home) as start:
        yield start


class Visitor:
    """A browser's requests without its care."""

    def __init__(self, address: str) -> None:
        self.at = urlsplit(address)
        self.cookie = ""

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str):
        connection = http.client.HTTPConnection(self.at.hostname, self.at.port, timeout=60)
        sent = {"Host": self.at.netloc, "Accept": "text/html"}
        if self.cookie:
            sent["Cookie"] = self.cookie
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        connection.request(method, path, body, sent)
        answer = connection.getresponse()
        text = answer.read().decode("utf-8", "replace")
        if given := answer.getheader("set-cookie"):
            self.cookie = given.split(";")[0]
        return answer.status, text, answer

    def enter(self) -> None:
        """By the address that the command gave, which opens once."""
        assert self.ask("GET", f"{self.at.path}?{self.at.query}")[0] == 303

    def post(self, path: str, form: dict, **headers: str):
        headers = {"Origin": f"http://{self.at.netloc}"} | headers
        kind = {"Content_Type": "application/x-www-form-urlencoded"}
        return self.ask("POST", path, urlencode(form).encode(), **kind, **headers)

    def token(self) -> str:
        text = self.ask("GET", "/?waiting=all")[1]
        return text.split('name="change" content="')[1].split('"')[0]


@pytest.fixture(scope="session")
def looked_at(tmp_path_factory, taken_in):
    """One who has entered a desk that is there for all tests that change nothing in it."""
    folder = tmp_path_factory.mktemp("looked-at")
    shutil.copytree(taken_in[0], folder / "desk")
    register = Register(folder / "desk" / "register.db")
    with serving(folder / "home") as start:
        visitor = Visitor(start("--no-browser", "--by", "desk 2", "--register", register.path))
        visitor.enter()
        visitor.register = register
        yield visitor


# Closed with its room: two drivers cannot run at once, and other rooms have theirs.
@pytest.fixture(scope="package")
def chromium():
    with sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-quic", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@pytest.fixture
def new_page(chromium):
    """A page of its own; what its console says of its scripts is an error."""
    contexts, told = [], []

    def make(**given):
        context = chromium.new_context(**{"viewport": {"width": 1280, "height": 800}} | given)
        context.set_default_timeout(60_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: told.append(message.text))
        page.on("pageerror", lambda error: told.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    # A refusal (409) is an answer of the page, not trouble of its scripts.
    assert not [text for text in told if "status of 409" not in text]


@pytest.fixture
def opened(serve, register, new_page):
    """Opens the page of the test's own register, as the command opens it."""

    def open_page(**given):
        page = new_page(**given)
        page.goto(serve("--no-browser", "--by", "desk 2", "--register", register.path))
        return page

    return open_page


@pytest.fixture
def seen(new_page, looked_at):
    """Opens the page of the desk in which nothing is changed."""

    def open_page(**given):
        page = new_page(**given)
        home = f"http://{looked_at.at.netloc}"
        name, _, value = looked_at.cookie.partition("=")
        page.context.add_cookies([{"name": name, "value": value, "url": home}])
        page.goto(home)
        return page

    return open_page
