"""A handed-over key is the successor of a listed one for both checkers, written apart."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from evidence_app.package.keys.keylist import (
    DEPOT_KEY_NAME,
    DeviceKey,
    open_key_list,
    signature_path,
    write_key_list,
)
from evidence_app.package.verify.check import verify
from tests.checker.conftest import check
from tests.hostile.bag import INSIDER, Bag, key_name
from tests.hostile.on_handover import AT, LATER, NEW, NEWEST, handed_over, statement
from tests.making import DEPOT, TECHNICIAN, make_key

YEAR = ("2026-01-01", "2027-01-01")
CHAIN = [statement(INSIDER, NEWEST, AT), statement(NEWEST, NEW, LATER)]

# What the list says of the first, the middle and the last key, and what follows. The job was
# closed on 2026-03-02, the keys handed over on 10 and 11 February.
CASES = {
    "only-the-first-listed": ([(INSIDER, *YEAR)], "holds"),
    "only-the-middle-listed": ([(NEWEST, *YEAR)], "holds"),
    "last-listed-itself": ([(NEW, *YEAR)], "holds"),
    "last-listed-from-later-on": ([(INSIDER, *YEAR), (NEW, "2026-03-10", "2027-01-01")], "holds"),
    "last-listed-and-ended": ([(INSIDER, *YEAR), (NEW, "2026-01-01", "2026-02-20")], "fails"),
    "last-withdrawn": ([(INSIDER, *YEAR), (NEW, *YEAR, "2026-02-20")], "fails"),
    "middle-withdrawn": ([(INSIDER, *YEAR), (NEWEST, *YEAR, "2026-02-20")], "fails"),
    "middle-withdrawn-since": ([(INSIDER, *YEAR), (NEWEST, *YEAR, "2026-04-01")], "fails"),
    "first-withdrawn-and-middle-listed": ([(INSIDER, *YEAR, "2026-02-20"), (NEWEST, *YEAR)], "holds"),
    "first-ended-before-the-job": ([(INSIDER, "2026-01-01", "2026-03-01")], "fails"),
    "first-valid-after-its-handover": ([(INSIDER, "2026-02-20", "2027-01-01")], "fails"),
    "none-listed": ([], "fails"),
}


def day(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.fixture(scope="module")
def package(sound, tmp_path_factory):
    path = tmp_path_factory.mktemp("handed") / sound[0].name
    path.write_bytes(handed_over(Bag.read(sound[0]), CHAIN).zip())
    return path


@pytest.mark.parametrize(("listed", "expected"), CASES.values(), ids=CASES)
def test_chain_is_judged_alike(checker, package, tmp_path, listed, expected):
    keys = [
        DeviceKey(key_name(key), TECHNICIAN, "tablet 3", day(start), day(end),
                  *(day(gone) for gone in revoked), **({"reason": "lost"} if revoked else {}))
        for key, start, end, *revoked in listed
    ]  # fmt: skip
    path = tmp_path / "key-list.toml"
    write_key_list(path, DEPOT, day("2026-04-10"), keys, make_key(9))
    checker.give_keys([path, signature_path(path), path.with_name(DEPOT_KEY_NAME)])
    page, app = checker.give(package), verify(package, open_key_list(path))
    assert check(page, "key")["outcome"] == app.check("key").outcome == expected
    assert check(page, "key").get("code", "") == app.check("key").code


def test_page_names_both_keys_the_owner_and_the_reason(shared, trust_files, package):
    shared.give_keys(trust_files)
    found = check(shared.give(package), "key")
    words = (
        key_name(NEW)[:16],
        key_name(INSIDER)[:16],
        f"listed as that of {TECHNICIAN}",
        AT,
        "screen broke",
    )
    assert all(word in found["sentence"] for word in words)
    assert len(found["items"]) == 2


def test_job_closed_before_its_key_was_handed_over_and_sealed_after_it_holds_for_both(
    shared, trust_files, sound, tmp_path
):
    path = tmp_path / sound[0].name
    chain = [statement(INSIDER, NEW, "2026-03-05T09:00:00+01:00")]
    path.write_bytes(handed_over(Bag.read(sound[0]), chain).zip())
    shared.give_keys(trust_files)
    assert check(shared.give(path), "key")["outcome"] == "holds"
    assert verify(path, open_key_list(sound[1])).check("key").outcome == "holds"
