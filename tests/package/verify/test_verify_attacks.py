"""Every hostile package is caught by the check that is there for it, in plain words."""

from __future__ import annotations

import pytest
from msgspec import structs

from evidence_app.errors import PackageError
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import LABELS, NOT_CHECKED
from tests.hostile.make import ATTACKS, build

JUDGED = [attack for attack in ATTACKS.values() if attack.check]
UNREADABLE = [attack for attack in ATTACKS.values() if not attack.check]


@pytest.fixture
def verified(sound, tmp_path):
    def run(attack):
        return verify(build(attack, sound.path, tmp_path).path, sound.key_list)

    return run


@pytest.mark.parametrize("attack", JUDGED, ids=lambda attack: attack.name)
def test_attack_fails_its_check(verified, attack):
    result = verified(attack)
    assert attack.check in result.failed
    assert result.exit_status == 1
    unforeseen = [check for check in result.checks if "could not be finished" in str(check.sentence)]
    assert not unforeseen


@pytest.mark.parametrize("attack", UNREADABLE, ids=lambda attack: attack.name)
def test_no_package_at_all_is_an_error(verified, attack):
    with pytest.raises(PackageError) as caught:
        verified(attack)
    assert caught.value.exit_status == 2
    assert attack.name in caught.value.where
    assert caught.value.remedy


@pytest.mark.parametrize("attack", [a for a in JUDGED if a.check == "archive"], ids=lambda a: a.name)
def test_nothing_is_read_from_an_unsound_archive(verified, attack):
    result = verified(attack)
    others = [check for check in result.checks if check.name != "archive"]
    assert {check.outcome for check in others} == {NOT_CHECKED}
    assert all(str(LABELS["archive"]) in str(check.sentence) for check in others)
    assert result.facts is None


def test_altered_photo_is_named_with_step_and_both_checksums(verified):
    result = verified(ATTACKS["photo-byte-altered"])
    (altered,) = result.altered
    assert altered.path.startswith("data/photos/")
    assert altered.step == "inspect-slot"
    assert len(altered.expected) == len(altered.found) == 64
    assert altered.expected != altered.found
    (item,) = map(str, result.check("checksums").items)
    for part in (altered.path, altered.step, altered.expected, altered.found):
        assert part in item


def test_removed_photo_is_named_as_missing(verified):
    (altered,) = verified(ATTACKS["photo-removed"]).altered
    assert altered.found is None


def test_newer_format_is_named_as_such(verified):
    (item,) = map(str, verified(ATTACKS["seal-of-newer-format"]).check("seal").items)
    assert "evidence-seal/2" in item
    assert "newer" in item


def test_checks_that_depend_on_a_failed_one_say_so(verified):
    result = verified(ATTACKS["event-removed"])
    for name in ("originals", "conduct", "record", "report", "clocks"):
        assert result.check(name).outcome == NOT_CHECKED
        assert str(result.check(name).sentence).startswith("because ")


def test_names_cannot_command_the_terminal(verified):
    from evidence_app.package.verify.result import lines

    text = "\n".join(lines(verified(ATTACKS["name-with-escape-codes"])))
    assert "\x1b" not in text
    assert "\\x1b" in text


def test_a_ticket_told_otherwise_fails_even_without_a_key_list(sound, tmp_path):
    package = build(ATTACKS["ticket-told-older"], sound.path, tmp_path).path
    assert "time-bracket" in verify(package).failed


def test_a_ticket_of_another_depot_than_the_key_list_fails(sound, tmp_path):
    other = structs.replace(sound.key_list, depot="Another depot")
    assert "time-bracket" in verify(sound.path, other).failed
