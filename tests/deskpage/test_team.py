"""A desk for a team: TLS alone, accounts with roles, wrong tries slowed, names in the history."""

from __future__ import annotations

import socket
import ssl
import urllib.error
import urllib.request
from http.cookiejar import CookieJar
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.desk.search import show
from evidence_app.deskpage.accounts import Accounts
from evidence_app.deskpage.sessions import Sessions
from evidence_app.errors import EvidenceError
from tests.deskpage.tls import certificate_in


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    return certificate_in(tmp_path_factory.mktemp("tls"))


@pytest.fixture
def team(serve, register, certificate):
    accounts = Accounts(register.path.with_name("accounts.json"))
    for role in ("reader", "clerk", "supervisor"):
        accounts.put(role.title(), role, f"a long {role} word")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    return serve(
        "--register", register.path, "--listen", f"127.0.0.1:{port}",
        "--certificate", certificate[0], "--key", certificate[1],
    )  # fmt: skip


class Person:
    def __init__(self, address: str, certificate) -> None:
        self.home = address.rstrip("/")
        trusted = ssl.create_default_context(cafile=str(certificate[0]))
        self._opener = urllib.request.build_opener(
            urllib.request.HTTPSHandler(context=trusted), urllib.request.HTTPCookieProcessor(CookieJar())
        )

    def ask(self, path: str, form: dict | None = None) -> tuple[int, str]:
        request = urllib.request.Request(
            self.home + path,
            urlencode(form).encode() if form is not None else None,
            {"Origin": self.home, "Accept": "text/html"},
        )
        try:
            with self._opener.open(request, timeout=60) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()

    def sign_in(self, name: str, password: str | None = None) -> tuple[int, str]:
        password = password or f"a long {name.lower()} word"
        return self.ask("/sign-in", {"name": name, "password": password})

    def token(self) -> str:
        return self.ask("/settings")[1].split('name="change" content="')[1].split('"')[0]


@pytest.mark.parametrize(("name", "status"), [("Reader", 403), ("Clerk", 200)])
def test_a_role_may_do_what_is_its_own_and_its_name_is_in_the_history(
    team, certificate, register, name, status
):
    person = Person(team, certificate)
    assert person.sign_in(name)[0] == 200
    answer = person.ask("/package/1/decide", {"decision": "accepted", "change": person.token()})
    assert answer[0] == status
    told = [event["by"] for event in show(register, 1).events if event["kind"] == "decided"]
    assert told == ([name] if status == 200 else [])


def test_signing_out_ends_the_session(team, certificate):
    person = Person(team, certificate)
    person.sign_in("Clerk")
    person.ask("/sign-out", {"change": person.token()})
    assert "Sign in" in person.ask("/?waiting=all")[1]


def test_a_key_is_not_sent_to_the_desk(team, certificate):
    person = Person(team, certificate)
    person.sign_in("Supervisor")
    form = {"decision": "agree", "pin": "604192", "change": person.token()}
    status, text = person.ask("/package/2/countersign", form)
    assert status == 409 and "stays with its owner" in text


def test_wrong_tries_are_slowed_and_the_right_word_waits_too(tmp_path):
    now = [0.0]
    accounts = Accounts(tmp_path / "accounts.json", lambda: now[0])
    accounts.put("Clerk", "clerk", "a long clerk word")
    for _ in range(3):
        with pytest.raises(EvidenceError, match="not right"):
            accounts.sign_in("Clerk", "another word")
    with pytest.raises(EvidenceError, match="too many wrong tries"):
        accounts.sign_in("Clerk", "a long clerk word")
    now[0] = 3.0
    assert accounts.sign_in("Clerk", "a long clerk word").role == "clerk"


def test_no_password_stands_in_the_file(tmp_path):
    accounts = Accounts(tmp_path / "accounts.json")
    accounts.put("Clerk", "clerk", "a long clerk word")
    text = accounts.path.read_text("utf-8")
    assert "$argon2id$" in text and "long clerk" not in text
    assert accounts.path.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(("after", "alive"), [(60.0, True), (1900.0, False)])
def test_a_session_ends_when_nobody_uses_it(after, alive):
    now = [0.0]
    sessions = Sessions(1800.0, 43_200.0, lambda: now[0])
    token = sessions.begin("Clerk", "clerk")
    now[0] = after
    assert (sessions.find(token) is not None) is alive


def test_a_session_ends_although_it_is_used():
    now = [0.0]
    sessions = Sessions(1800.0, 43_200.0, lambda: now[0])
    token = sessions.begin("Clerk", "clerk")
    for minute in range(0, 12 * 60 + 2, 10):
        now[0] = minute * 60.0
        sessions.find(token)
    now[0] = 43_260.0
    assert sessions.find(token) is None


def test_beyond_this_computer_without_tls_is_refused():
    done = CliRunner().invoke(main, ["desk", "--listen", "127.0.0.1:0"])
    assert done.exit_code == 2 and "TLS only" in done.output
