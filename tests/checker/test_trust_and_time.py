"""Key lists and clocks beyond the attacks: the page and the app come to the same outcome."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

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
from tests.hostile.bag import Bag
from tests.hostile.on_job import shift, the
from tests.making import DEPOT, TECHNICIAN, make_key


def day(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


# The package is closed on 2026-03-02 at 07:15 UTC.
STANDINGS = {
    "valid": ("2026-01-01", "2027-01-01", None, "holds"),
    "valid-until-that-day": ("2026-01-01", "2026-03-02", None, "fails"),
    "valid-from-next-day": ("2026-03-03", "2027-01-01", None, "fails"),
    "revoked-before": ("2026-01-01", "2027-01-01", "2026-03-01", "fails"),
    "revoked-since": ("2026-01-01", "2027-01-01", "2026-03-09", "fails"),
}


@pytest.mark.parametrize("standing", STANDINGS.values(), ids=STANDINGS)
def test_key_is_judged_alike(checker, sound, tmp_path, standing):
    start, end, revoked, expected = standing
    revoked_at = revoked and day(revoked)
    # Quotes, a hash sign and letters that TOML may write in several ways.
    owner = TECHNICIAN + '; M. "Okafor" #1 \\ Lind é'
    key = DeviceKey(
        Bag.read(sound[0]).seal_fields()["device_key_sha256"],
        owner, "tablet 3", day(start), day(end), revoked_at, revoked and "lost # at sea",
    )  # fmt: skip
    files = written(tmp_path, [DeviceKey("0" * 64, "x", "y", day(start), day(end)), key])
    checker.give_keys(files)
    found = check(checker.give(sound[0]), "key")
    assert found["outcome"] == expected
    assert verify(sound[0], open_key_list(files[0])).check("key").outcome == expected
    assert owner in found["sentence"]


def test_key_that_is_not_listed_fails(checker, sound, tmp_path):
    files = written(tmp_path, [])
    checker.give_keys(files)
    assert check(checker.give(sound[0]), "key")["outcome"] == "fails"


def written(folder: Path, keys: list[DeviceKey]) -> list[Path]:
    path = folder / "key-list.toml"
    write_key_list(path, DEPOT, day("2026-03-10"), keys, make_key(9))
    return [path, signature_path(path), path.with_name(DEPOT_KEY_NAME)]


# TOML 1.0 that the page does not read in full: it says so and does not guess.
@pytest.mark.parametrize(
    "line",
    [
        'owner = """a"""', "owner = 'a'", 'owner = "a" "b"', 'device-keys.owner = "a"', "x = [1]",
        'owner = "a"\nowner = "b"', "[device-keys]", "issued-at = 2026-03-10", "format = 1.0",
    ],
)  # fmt: skip
def test_list_in_another_form_is_refused(shared, line):
    text = f'format = 1\ndepot = "D"\nissued-at = 2026-03-10T00:00:00Z\n{line}\n'
    code = (
        "(text) => { try { checkerParts.readKeyList(text); return 'read'; } catch { return 'refused'; } }"
    )
    assert shared.part(code, text) == "refused"
    assert shared.part(code, text.removesuffix(f"{line}\n")) == "read"


def step_recorded(events: list) -> None:
    middle = the(events, "reading-entered")
    shift(events, middle, 3600, mono=False)
    told = {"kind": "clock-stepped", "actor": "clock", "body": {"by_s": 3600, "earlier": False}}
    before = events[events.index(middle) - 1]
    gap = (middle["mono_us"] - before["mono_us"]) / 1e6
    assert gap < 2
    events.insert(events.index(middle), middle | told)


def restart_recorded(events: list) -> None:
    middle = the(events, "reading-entered")
    at = events.index(middle)
    for event in events[at:]:
        event["boot"] = "another-run"
    previous = events[at - 1]["boot"]
    told = {"kind": "machine-restarted", "actor": "clock", "body": {"previous_boot": previous}}
    events.insert(at, middle | told)


def restart_to_earlier_recorded(events: list) -> None:
    middle = the(events, "reading-entered")
    at = events.index(middle)
    shift(events, middle, -600, mono=False)
    restart_recorded(events)
    wall = [datetime.fromisoformat(event["wall"]) for event in (events[at - 1], middle)]
    by_s = round((wall[1] - wall[0]).total_seconds(), 3)
    told = {"kind": "clock-stepped", "actor": "clock", "body": {"by_s": by_s, "earlier": True}}
    events.insert(at + 1, middle | told)


def restart_to_earlier_half_told(events: list) -> None:
    restart_to_earlier_recorded(events)
    events.remove(the(events, "clock-stepped"))


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (step_recorded, "holds"),
        (restart_recorded, "holds"),
        (restart_to_earlier_recorded, "holds"),
        (restart_to_earlier_half_told, "fails"),
    ],
)
def test_clocks_are_judged_alike(checker, sound, tmp_path, change, expected):
    path = tmp_path / sound[0].name
    path.write_bytes(Bag.read(sound[0]).rewrite(change).own().zip())
    found = check(checker.give(path), "clocks")
    assert found["outcome"] == expected
    assert verify(path).check("clocks").outcome == expected
    assert found["items"]
