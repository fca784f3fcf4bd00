"""Who may reach the page: host, origin, token, cookie and form, tried from outside."""

from __future__ import annotations

import pytest

from evidence_app.desk.search import show
from tests.deskpage.conftest import Visitor


@pytest.fixture
def visitor(serve, register):
    """Before a desk of the test's own."""
    return Visitor(serve("--no-browser", "--register", register.path))


@pytest.fixture
def inside(looked_at):
    visitor = Visitor(looked_at.at.geturl())
    visitor.cookie = looked_at.cookie
    return visitor


def test_opened_address_becomes_a_cookie_once(visitor):
    visitor.enter()
    assert "HttpOnly" in str(visitor.ask("GET", "/")[2].headers) or visitor.cookie
    other = Visitor(visitor.at.geturl())
    assert other.ask("GET", f"{visitor.at.path}?{visitor.at.query}")[0] == 403


@pytest.mark.parametrize("path", ["/?waiting=all", "/package/1", "/export/json", "/rows"])
def test_without_the_cookie_nothing_is_shown(inside, path):
    status, text, _ = Visitor(inside.at.geturl()).ask("GET", path)
    assert status == 303 and "NQ-2026" not in text


def test_another_host_name_is_not_answered(inside):
    assert inside.ask("GET", "/?waiting=all", Host="evil.example")[0] == 421


def test_nothing_is_loaded_from_elsewhere_and_nothing_runs_but_the_page_s_own(inside):
    policy = inside.ask("GET", "/?waiting=all")[2].getheader("content-security-policy")
    assert "default-src 'none'" in policy and "unsafe" not in policy and "http" not in policy
    entry = inside.ask("GET", "/package/1")[1].split('data-photo="')[1].split('"')[0]
    answer = inside.ask("GET", entry)[2]
    assert answer.getheader("content-type") == "image/jpeg"
    assert "sandbox" in answer.getheader("content-security-policy")


@pytest.mark.parametrize("name", ["data/report.html", "seal.json", "data/photos/../journal.jsonl"])
def test_only_photos_and_recordings_of_a_package_are_served(inside, name):
    assert inside.ask("GET", f"/package/1/file/{name}")[0] == 404


@pytest.mark.parametrize(
    ("change", "origin", "status"),
    [("right", "http://evil.example", 403), ("wrong", None, 403), ("", None, 403)],
)
def test_change_from_another_page_or_without_its_token_does_nothing(
    inside, looked_at, change, origin, status
):
    form = {"decision": "accepted", "change": inside.token() if change == "right" else change}
    headers = {"Origin": origin} if origin else {}
    assert inside.post("/package/1/decide", form, **headers)[0] == status
    assert [event["kind"] for event in show(looked_at.register, 1).events] == ["received"]


def test_huge_form_is_refused(inside):
    form = {"decision": "accepted", "change": inside.token(), "reason": "x" * 100_000}
    assert inside.post("/package/1/decide", form)[0] == 413


def test_damaged_register_is_said_on_the_first_page(visitor, register):
    visitor.enter()
    data = bytearray(register.path.read_bytes())
    data[:100] = bytes(100)
    register.path.write_bytes(bytes(data))
    status, text, _ = visitor.ask("GET", "/?waiting=all")
    assert status == 409 and "register" in text


def test_day_that_is_none_is_said(inside):
    status, text, _ = inside.ask("GET", "/?since=2026-13-45")
    assert status == 409 and "is not a date" in text
