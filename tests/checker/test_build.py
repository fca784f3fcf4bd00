"""The shipped page is the built one, and its policy lets only its own script run."""

from __future__ import annotations

import importlib.util
import re

import pytest

from evidence_app.locations import asset


@pytest.fixture(scope="module")
def builder():
    path = asset("checker") / "build.py"
    spec = importlib.util.spec_from_file_location("checker_build", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def shipped() -> str:
    return asset("checker.html").read_text(encoding="utf-8")


def test_shipped_page_is_what_the_sources_give(builder, shipped):
    assert shipped == builder.build().decode()


def test_every_source_is_built_in(builder):
    sources = {p.stem for p in builder.SOURCES.glob("*/*.js")}
    assert sources == {*builder.CORE, *builder.PAGE}


def test_policy_allows_nothing_from_elsewhere(shipped):
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', shipped)[1]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert "connect-src" not in rules
    assert re.fullmatch(r"'sha256-[A-Za-z0-9+/=]{44}'", rules["script-src"])
    assert "http" not in policy


def test_page_names_no_address(shipped):
    assert "://" not in shipped
    assert not re.search(
        r"\b(fetch|XMLHttpRequest|WebSocket|sendBeacon|importScripts|eval)\b\s*\(", shipped
    )


def test_page_promises_nothing_it_cannot_show(shipped):
    assert not re.search(r"authentic|genuine|tamper-?proof|guarantee", shipped, re.IGNORECASE)


def test_no_source_is_too_long(builder):
    for path in (each for each in builder.SOURCES.rglob("*.*") if each.suffix != ".pyc"):
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 400, path.name
