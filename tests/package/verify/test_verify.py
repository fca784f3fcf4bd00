"""What verify says of sound packages, and what the checker brings along."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import pytest

from evidence_app.package.keys.keylist import DeviceKey, open_key_list, write_key_list
from evidence_app.package.keys.timestamp import attach_token, make_request
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import (
    CHECK_NAMES,
    FAILS,
    HOLDS,
    LABELS,
    NOT_CHECKED,
    lines,
    to_json,
)
from tests.hostile.bag import Bag
from tests.hostile.make import ATTACKS
from tests.making import DEPOT, make_key, make_package

CLOSED = datetime.fromisoformat("2026-03-02T08:15:47.123+01:00")
DAY = timedelta(days=1)


@pytest.mark.parametrize("outcome", ["completed", "stopped", "abandoned"])
def test_sealed_job_holds(tmp_path, outcome):
    result = verify(make_package(tmp_path, outcome=outcome).path)
    assert result.failed == ()
    assert result.exit_status == 0
    assert result.facts.outcome == outcome


def test_every_check_is_made_in_order(sound):
    result = verify(sound.path, sound.key_list)
    assert tuple(check.name for check in result.checks) == CHECK_NAMES
    assert {check.outcome for check in result.checks} == {HOLDS}
    assert str(result.overall) == "All 14 checks hold."


def test_unpacked_bag_holds(unpacked, sound):
    result = verify(unpacked, sound.key_list)
    assert {check.outcome for check in result.checks} == {HOLDS}


def test_renamed_package_holds(sound, tmp_path):
    other = tmp_path / "from the tablet (2).zip"
    other.write_bytes(sound.path.read_bytes())
    assert verify(other).failed == ()


def test_pictures_of_the_report_can_be_left_out(sound):
    check = verify(sound.path, compare_pictures=False).check("report")
    assert check.outcome == NOT_CHECKED
    assert "pictures were not compared" in str(check.sentence)


@pytest.mark.parametrize("attack", ["report-with-a-word-changed", "report-with-a-script"])
def test_words_of_the_report_are_never_left_out(sound, tmp_path, attack):
    ATTACKS[attack](sound.path, tmp_path / "altered.zip")
    result = verify(tmp_path / "altered.zip", compare_pictures=False)
    assert result.failed == ("report",)


# --- whose key ------------------------------------------------------------------------


def key_list(folder, package, **dates):
    """The key list of a depot that names the package's key with these dates."""
    valid = {"valid_from": CLOSED - DAY, "valid_until": CLOSED + 100 * DAY} | dates
    key = DeviceKey(package.seal.device_key_sha256, "M. Okafor-Lind", "tablet 3", **valid)
    path = folder / "key-list.toml"
    write_key_list(path, DEPOT, CLOSED + 50 * DAY, [key], make_key(9))
    return open_key_list(path)


def test_without_key_list_the_signer_is_said_to_be_unknown(tmp_path):
    check = verify(make_package(tmp_path).path).check("key")
    assert check.outcome == NOT_CHECKED
    assert "whose key sealed this is not known" in str(check.sentence)


def test_key_that_the_list_does_not_know_fails(sound, tmp_path):
    package = make_package(tmp_path, key=make_key(77))
    assert verify(package.path, sound.key_list).failed == ("key",)


@pytest.mark.parametrize(
    ("dates", "word"),
    [
        ({"valid_from": CLOSED + DAY}, "is valid from"),
        ({"valid_until": CLOSED - timedelta(hours=1)}, "was valid until"),
        ({"revoked_at": CLOSED - timedelta(hours=1)}, "was revoked from"),
        ({"revoked_at": CLOSED + DAY}, "nothing from outside the tablet shows"),
    ],
)
def test_key_not_good_at_closing_fails(tmp_path, dates, word):
    package = make_package(tmp_path)
    result = verify(package.path, key_list(tmp_path, package, **dates))
    assert result.failed == ("key",)
    assert word in str(result.check("key").sentence)


def test_receipt_before_revocation_supports_the_key(tmp_path):
    package = make_package(tmp_path)
    keys = key_list(tmp_path, package, revoked_at=CLOSED + 2 * DAY)
    assert verify(package.path, keys, received_at=CLOSED + DAY).check("key").outcome == HOLDS
    assert verify(package.path, keys, received_at=CLOSED + 3 * DAY).check("key").outcome == FAILS


def test_time_token_before_revocation_supports_the_key(tmp_path, authority):
    package = make_package(tmp_path)
    attach_token(package.path, authority.answer(make_request(package.path)))
    now = datetime.now().astimezone()
    valid = {"valid_until": now + 9 * DAY}
    keys = key_list(tmp_path, package, revoked_at=now + DAY, **valid)
    assert verify(package.path, keys, authority.root).check("key").outcome == HOLDS
    assert verify(package.path, keys).check("key").outcome == FAILS


# --- when -------------------------------------------------------------------------------


def test_time_token_says_by_when_the_seal_existed(tmp_path, authority):
    package = make_package(tmp_path)
    attach_token(package.path, authority.answer(make_request(package.path)))
    result = verify(package.path, None, authority.root)
    assert result.failed == ()
    assert "CN=Northquay time signer" in str(result.check("time-bracket").sentence)


def test_time_token_without_authority_is_not_checked(tmp_path, authority):
    package = make_package(tmp_path)
    attach_token(package.path, authority.answer(make_request(package.path)))
    check = verify(package.path).check("time-bracket")
    assert check.outcome == NOT_CHECKED
    assert "no time authority was given" in str(check.sentence)


def test_time_token_of_another_authority_fails(tmp_path, authority):
    from tests.package.conftest import TimeAuthority

    package = make_package(tmp_path)
    attach_token(package.path, authority.answer(make_request(package.path)))
    other = TimeAuthority(tmp_path / "other")
    assert verify(package.path, None, other.root).failed == ("time-bracket",)


def test_receipt_before_closing_fails(sound):
    result = verify(sound.path, sound.key_list, received_at=CLOSED - DAY)
    assert result.failed == ("time-bracket",)


def test_ticket_needs_the_key_list(sound):
    check = verify(sound.path).check("time-bracket")
    assert check.outcome == NOT_CHECKED
    assert "there is a ticket, but no key list" in str(check.sentence)


def test_ticket_says_before_what_the_job_did_not_begin(sound):
    check = verify(sound.path, sound.key_list).check("time-bracket")
    assert "was not recorded before 2026-03-02T08:15:30.623+01:00" in str(check.sentence)


# --- practice ---------------------------------------------------------------------------


def test_practice_package_never_passes_for_a_real_one(tmp_path):
    result = verify(make_package(tmp_path, practice=True).path)
    assert result.failed == ("practice",)
    assert str(result.overall).startswith("Practice package, not evidence")


def test_practice_package_is_accepted_when_asked_for(tmp_path):
    result = verify(make_package(tmp_path, practice=True).path, accept_practice=True)
    assert result.exit_status == 0
    assert str(result.overall).startswith("Practice package, not evidence")


# --- telling ------------------------------------------------------------------------------


def test_progress_ends_at_the_whole_and_can_stop_the_check(sound):
    told = []
    verify(sound.path, progress=lambda done, total: told.append((done, total)))
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1] > 0

    class Stop(Exception):
        pass

    def stop(done, total):
        raise Stop

    with pytest.raises(Stop):
        verify(sound.path, progress=stop)


def test_result_as_json(sound):
    told = json.loads(json.dumps(to_json(verify(sound.path, sound.key_list))))
    assert [check["name"] for check in told["checks"]] == list(CHECK_NAMES)
    assert told["exit_status"] == 0
    assert told["facts"]["claim"] == "NQ-2026-0117"
    assert told["altered"] == []


def test_result_as_text_has_a_line_for_each_check(sound):
    text = lines(verify(sound.path, sound.key_list))
    assert text[0] == str(sound.path)
    assert text[1].strip() == "All 14 checks hold."
    for name in CHECK_NAMES:
        assert any(line.split()[:2] == ["holds", name] for line in text)


# --- other versions of the app ------------------------------------------------------------


def reworded(sound, tmp_path, name, old, new):
    """A package whose record or report says that an earlier version of the format wrote it."""
    bag = Bag.read(sound.path)
    assert old in bag.files[name]
    bag.files[name] = bag.files[name].replace(old, new, 1)
    if name.endswith(".json"):
        bag.files[name] = bag.files[name].replace(b"evidence-record/2", b"evidence-record/1")
    path = tmp_path / "earlier.zip"
    path.write_bytes(bag.own(app="0.0.9").zip())
    return path


EARLIER = [
    ("record", "data/record.json", b'"name":"Hand lamp"', b'"name":"Lamp"'),
    ("report", "data/report.html", b"evidence-report/3", b"evidence-report/1"),
]


@pytest.mark.parametrize(("name", *"fon"), EARLIER, ids=["record", "report"])
def test_earlier_format_with_true_facts_is_no_pass_unless_asked_for(sound, tmp_path, name, f, o, n):
    path = reworded(sound, tmp_path, f, o, n)
    result = verify(path, sound.key_list)
    assert result.failed == ()
    assert result.check(name).outcome == NOT_CHECKED
    assert result.exit_status == 1
    assert str(LABELS[name]) in str(result.overall)
    assert verify(path, sound.key_list, other_wording=True).exit_status == 0


def test_earlier_format_that_only_says_less_holds(sound, tmp_path):
    path = reworded(sound, tmp_path, "data/record.json", b'"scale_cards":[],', b"")
    result = verify(path, sound.key_list)
    assert result.exit_status == 0
    assert result.check("record").outcome == HOLDS


@pytest.mark.parametrize("name", ["data/record.json", "data/report.html"])
def test_version_named_in_the_seal_excuses_nothing(sound, tmp_path, name):
    path = reworded(sound, tmp_path, name, b"H7-004211", b"H7 004211")
    for agreed in (False, True):
        failed = verify(path, sound.key_list, other_wording=agreed).failed
        assert failed == (name.removeprefix("data/").split(".")[0],)


def test_key_revoked_before_since_and_unknown_are_three_answers(sound, tmp_path):
    package = make_package(tmp_path)
    overall = {
        str(verify(package.path, keys).overall)
        for keys in (
            key_list(tmp_path, package, revoked_at=CLOSED - timedelta(hours=1)),
            key_list(tmp_path, package, revoked_at=CLOSED + DAY),
            sound.key_list,
        )
    }
    assert len(overall) == 3
