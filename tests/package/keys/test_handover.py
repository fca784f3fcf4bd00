"""Keys handed over: known as the successor of a listed key, as long as that one, and told so."""

from __future__ import annotations

import base64
import json
import subprocess
import zipfile
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.package.keys.keylist import DEPOT_KEY_NAME, DeviceKey, open_key_list, write_key_list
from evidence_app.package.keys.signing_key import open_key
from evidence_app.package.verify.check import verify
from tests.hostile import on_handover
from tests.hostile.bag import INSIDER, Bag
from tests.hostile.make import ATTACKS, build
from tests.making import DEPOT, TECHNICIAN, make_closed_job, make_key

PIN, NEW_PIN = "820193", "604182"
NOW = datetime.now(UTC)
DAY = timedelta(days=1)


def run(*words, **env):
    return CliRunner().invoke(main, [*map(str, words)], env=env)


@pytest.fixture
def tablet(tmp_path, monkeypatch):
    """A machine with a key that the depot lists; (key's path, key list's path)."""
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    for name, pin in (("old.pin", PIN), ("new.pin", NEW_PIN)):
        (tmp_path / name).write_text(pin)
    assert run("keys", "make", "--pin-file", tmp_path / "old.pin").exit_code == 0
    path = tmp_path / "home" / "keys" / "device-key.pem"
    listed(tmp_path, open_key(path, PIN).sha256)
    return path, tmp_path / "keys.toml"


def listed(folder, sha256, **changes):
    given = {"owner": TECHNICIAN, "label": "tablet 3", "valid_from": datetime(2026, 1, 1, tzinfo=UTC),
             "valid_until": NOW + 365 * DAY}  # fmt: skip
    write_key_list(
        folder / "keys.toml", DEPOT, NOW, [DeviceKey(sha256=sha256, **given | changes)], make_key(9)
    )


def handed_over(folder, *more):
    return run("keys", "hand-over", "--reason", "screen broke", "--pin-file", folder / "old.pin",
               "--new-pin-file", folder / "new.pin", *more)  # fmt: skip


def sealed(folder, pin):
    if not (folder / "job").exists():
        make_closed_job(folder / "job")
    (folder / "pin").write_text(pin)
    out = folder / f"out-{len(list(folder.glob('out-*')))}"
    done = run("seal", folder / "job", "--out", out, "--pin-file", folder / "pin")
    assert done.exit_code == 0, done.output
    return next(out.iterdir())


def test_package_of_the_new_key_is_known_as_the_listed_ones_successor(tablet, tmp_path):
    path, keys = tablet
    old = open_key(path, PIN).sha256
    done = handed_over(tmp_path)
    assert done.exit_code == 0, done.output
    new = open_key(path, NEW_PIN).sha256
    told = run("verify", "--keys", keys, sealed(tmp_path, NEW_PIN))
    assert told.exit_code == 0, told.output
    said = (f"sealed with key {new[:16]}…, to which key {old[:16]}…, listed as that of {TECHNICIAN} "
            "(tablet 3), handed over at ")  # fmt: skip
    assert said in told.output and "(screen broke)" in told.output


def test_old_key_stays_and_still_opens_with_its_pin(tablet, tmp_path):
    path, _ = tablet
    old = open_key(path, PIN).sha256
    handed_over(tmp_path)
    assert open_key(path.with_name(f"device-key-{old[:16]}.pem"), PIN).sha256 == old


def test_public_half_beside_the_key_is_the_new_ones(tablet, tmp_path):
    path, _ = tablet
    handed_over(tmp_path)
    assert path.with_suffix(".public.pem").read_bytes() == open_key(path, NEW_PIN).public_pem


def test_openssl_accepts_the_statement_under_the_old_key_alone(tablet, tmp_path):
    path, _ = tablet
    old_pem, other_pem = open_key(path, PIN).public_pem, make_key(5).public_pem
    handed_over(tmp_path)
    with zipfile.ZipFile(sealed(tmp_path, NEW_PIN)) as package:
        package.extractall(tmp_path / "unpacked")
    [folder] = (tmp_path / "unpacked").iterdir()
    for pem, status in ((old_pem, 0), (other_pem, 1)):
        (tmp_path / "old.pem").write_bytes(pem)
        command = ("openssl pkeyutl -verify -pubin -inkey ../../old.pem -rawin -in handover-1.json "
                   "-sigfile handover-1.sig")  # fmt: skip
        assert subprocess.run(command.split(), cwd=folder, capture_output=True).returncode == status
    told = json.loads((folder / "handover-1.json").read_bytes())
    assert told["old_key"].encode() in old_pem
    assert base64.b64decode(told["new_key"]) in base64.b64decode(
        b"".join((folder / "device-key.pem").read_bytes().splitlines()[1:-1])
    )


def test_same_job_sealed_again_with_the_new_key_gives_the_same_bytes(tablet, tmp_path):
    handed_over(tmp_path)
    one, other = (sealed(tmp_path, NEW_PIN).read_bytes() for _ in range(2))
    assert one == other


def test_a_second_handover_carries_the_whole_chain(tablet, tmp_path):
    _, keys = tablet
    handed_over(tmp_path)
    again = run("keys", "hand-over", "--reason", "battery", "--pin-file", tmp_path / "new.pin",
                "--new-pin-file", tmp_path / "old.pin")  # fmt: skip
    assert again.exit_code == 0, again.output
    package = sealed(tmp_path, PIN)
    with zipfile.ZipFile(package) as archive:
        assert sum("/handover-" in name for name in archive.namelist()) == 4
    key = verify(package, open_key_list(keys)).check("key")
    assert key.outcome == "holds" and len(key.items) == 2


def test_handover_without_a_reason_changes_nothing(tablet, tmp_path):
    path, _ = tablet
    before = sorted(path.parent.iterdir()), path.read_bytes()
    done = run("keys", "hand-over", "--reason", "  ", "--pin-file", tmp_path / "old.pin",
               "--new-pin-file", tmp_path / "new.pin")  # fmt: skip
    assert done.exit_code == 2 and "needs a reason" in done.output
    assert (sorted(path.parent.iterdir()), path.read_bytes()) == before


def test_handover_that_was_cut_off_can_be_made_again(tablet, tmp_path):
    """A power cut left the new key's file before it had come to be used."""
    path, _ = tablet
    path.with_suffix(".new.pem").write_bytes(path.read_bytes())
    done = handed_over(tmp_path)
    assert done.exit_code == 0, done.output
    assert not path.with_suffix(".new.pem").exists()


def test_key_made_elsewhere_is_signed_over_beside_its_public_half(tablet, tmp_path):
    _, keys = tablet
    other = tmp_path / "new-tablet"
    assert run("keys", "make", other / "key.pem", "--pin-file", tmp_path / "new.pin").exit_code == 0
    done = handed_over(tmp_path, other / "key.public.pem")
    assert done.exit_code == 0, done.output
    make_closed_job(tmp_path / "job")
    run("seal", tmp_path / "job", "--out", tmp_path / "out", "--key", other / "key.pem",
        "--pin-file", tmp_path / "new.pin")  # fmt: skip
    [package] = (tmp_path / "out").iterdir()
    assert verify(package, open_key_list(keys)).check("key").outcome == "holds"


def test_handover_needs_the_old_keys_pin(tablet, tmp_path):
    path, _ = tablet
    (tmp_path / "old.pin").write_text("999333")
    before = sorted(path.parent.iterdir())
    told = handed_over(tmp_path)
    assert told.exit_code != 0 and "PIN is wrong" in told.output
    assert [f for f in sorted(path.parent.iterdir()) if f not in before and "handover" in f.name] == []


def test_chain_that_does_not_hold_beside_the_key_is_not_sealed_in(tablet, tmp_path):
    path, _ = tablet
    handed_over(tmp_path)
    signature = next(path.parent.glob("handover-*.sig"))
    signature.write_bytes(bytes(64))
    make_closed_job(tmp_path / "job")
    told = run("seal", tmp_path / "job", "--out", tmp_path / "out", "--pin-file", tmp_path / "new.pin")
    assert told.exit_code == 2 and "signature does not hold" in told.output
    assert list((tmp_path / "out").iterdir()) == []


def test_ready_says_that_the_successor_is_valid(tablet, tmp_path):
    from evidence_app.machine.surroundings import keys as look

    path, key_list = tablet
    handed_over(tmp_path)
    assert look(path, key_list).state == "works"
    next(path.parent.glob("handover-*.json")).unlink()
    assert look(path, key_list).state == "limited"


def test_tablet_says_which_listed_key_its_own_follows(tablet, tmp_path):
    from evidence_app.record.clock import SystemClock
    from evidence_app.tablet.presenting.trust import key_list_shown

    path, key_list = tablet
    handed_over(tmp_path)
    shown = key_list_shown(str(key_list), open_key(path, NEW_PIN).sha256, SystemClock())
    assert shown.holds and "follows by handover from the one listed as tablet 3" in shown.key_words


# --- judged by the list ------------------------------------------------------------------


@pytest.fixture
def successor(sound, tmp_path):
    """The sound package sealed with a key that its listed key handed over to on 10 February."""
    package = tmp_path / sound.path.name
    chain = [on_handover.statement(INSIDER, on_handover.NEW)]
    package.write_bytes(on_handover.handed_over(Bag.read(sound.path), chain).zip())
    return package


def test_successor_holds_and_each_handover_is_listed(successor, sound):
    key = verify(successor, sound.key_list).check("key")
    assert key.outcome == "holds"
    [item] = map(str, key.items)
    assert "handed over to key" in item and "the tablet's screen broke" in item


def test_without_a_key_list_it_is_not_checked(successor):
    assert verify(successor).check("key").outcome == "not checked"


def test_chain_that_does_not_hold_fails_without_a_key_list_too(sound, tmp_path):
    package = build(ATTACKS["handover-made-twice"], sound.path, tmp_path).path
    key = verify(package).check("key")
    assert key.outcome == "fails" and "hands over a second time" in str(key.items)


MADE = [name for name in ATTACKS if name.startswith("handover-") and ATTACKS[name].check == "key"]


@pytest.mark.parametrize("name", MADE)
def test_nothing_but_the_check_of_the_key_finds_it(sound, tmp_path, name):
    assert verify(build(ATTACKS[name], sound.path, tmp_path).path, sound.key_list).failed == ("key",)


def test_desk_takes_a_successor_in_and_refuses_a_withdrawn_keys(successor, sound, tmp_path):
    bad = build(ATTACKS["handover-by-a-withdrawn-key"], sound.path, tmp_path).path
    keys = sound.key_list_path
    for package, status, words in ((successor, 0, ""), (bad, 1, "had been revoked before")):
        told = run("desk", "--register", tmp_path / "register.db", "intake", package, "--by", "desk 2",
                   "--keys", keys, "--without-measuring")  # fmt: skip
        assert told.exit_code == status and words in told.output, told.output
    assert keys.with_name(DEPOT_KEY_NAME).exists()
