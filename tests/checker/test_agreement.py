"""The page and the app's own checker, written apart, judge every hostile package alike.

The page's core judges outside the browser, and each twelfth package in it.
"""

from __future__ import annotations

import random

import pytest

from evidence_app.errors import PackageError
from evidence_app.package.keys.keylist import open_key_list
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import CHECK_NAMES, LABELS, MEANINGS, MEANINGS_BY_CODE, NOT_CHECKED
from tests.checker.conftest import check
from tests.hostile.make import ATTACKS, build
from tests.hostile.registry import Attack

# Made by the app alone: they need summary and report made again. The page fails them for
# what it can see without, and else says "not checked".
APP_ALONE = {"record", "report"}


# The page listens with the browser's own decoder, so only a browser hears this one.
HEARD = "spoken-reason-that-is-silence"
BY_CORE = {name: attack for name, attack in ATTACKS.items() if name != HEARD}
IN_BROWSER = dict(list(BY_CORE.items())[::12]) | {HEARD: ATTACKS[HEARD]}


@pytest.fixture(scope="module")
def both(sound, core, tmp_path_factory):
    """Judge an attack with both: (result of the app or None when unreadable, of the page)."""
    folder = tmp_path_factory.mktemp("hostile")
    key_list = open_key_list(sound[1])

    def judge(attack):
        package = build(attack, sound[0], folder).path
        try:
            app = verify(package, key_list)
        except PackageError:
            app = None
        page = core(package)
        package.unlink()
        return app, page

    return judge


@pytest.mark.parametrize("attack", BY_CORE.values(), ids=BY_CORE)
def test_attack_is_judged_alike(both, attack):
    app, page = both(attack)
    compare(app, page)
    if app is not None:
        aimed_at = check(page, attack.check)["outcome"]
        assert aimed_at == "fails" or (attack.check in APP_ALONE and aimed_at == NOT_CHECKED)


@pytest.mark.parametrize("seed", range(30))
def test_any_damage_is_judged_alike(both, seed):
    """Bytes exchanged, lost or slipped in anywhere, directory and end records included."""
    compare(*both(Attack(f"damage-{seed}", None, "", lambda bag: damaged(bag.zip(), seed))))


def damaged(data: bytes, seed: int) -> bytes:
    chance = random.Random(seed)
    directory = data.index(b"PK\x01\x02")
    at = chance.randrange(chance.choice((0, directory, len(data) - 30)), len(data))
    lost, put_in = chance.choice(((1, 1), (4, 4), (chance.randrange(1, 20), 0), (0, 7)))
    return data[:at] + chance.randbytes(put_in) + data[at + lost :]


def compare(app, page) -> None:
    """Both say the same wherever both made a check; the page never says more than it checked."""
    if app is None:
        assert page["verdict"] == "unreadable"
        assert page["exit_status"] == 2
        return
    assert [c["name"] for c in page["checks"]] == list(CHECK_NAMES)
    for name in CHECK_NAMES:
        ours, theirs = app.check(name).outcome, check(page, name)["outcome"]
        if NOT_CHECKED not in (ours, theirs):
            assert theirs == ours, (name, check(page, name))
    unmade = {c["name"] for c in page["checks"] if c["outcome"] == NOT_CHECKED}
    assert set(app.failed) - unmade == set(page["failed"])
    if page["verdict"] != "fails":
        assert set(app.failed) <= APP_ALONE
        assert all(str(LABELS[name]) in page["overall"] for name in app.failed)


def test_sound_package_is_judged_alike(core, sound):
    page = core(sound[0])
    assert page["failed"] == []
    assert {c["name"] for c in page["checks"] if c["outcome"] == NOT_CHECKED} == APP_ALONE


@pytest.mark.parametrize("attack", IN_BROWSER.values(), ids=IN_BROWSER)
def test_attack_is_judged_alike_without_a_key_list(checker, sound, tmp_path, attack):
    package = build(attack, sound[0], tmp_path).path
    try:
        app = verify(package)
    except PackageError:
        app = None
    page = checker.give(package)
    compare(app, page)
    if attack is ATTACKS[HEARD]:
        assert check(page, attack.check)["outcome"] == "fails"


def test_checks_and_what_their_failures_mean_are_called_alike(shared):
    """One set of words in `verify`, at the desk and on the page."""
    page = shared.part("() => window.checkerParts.checkWords")
    assert page["labels"] == {name: str(LABELS[name]) for name in CHECK_NAMES}
    assert page["meanings"] == {name: str(MEANINGS[name]) for name in CHECK_NAMES}
    assert page["meaningsByCode"] == {code: str(said) for code, said in MEANINGS_BY_CODE.items()}
