"""Key lists: signed by the depot, exact about when a key was good, refused when altered."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from evidence_app.errors import SigningKeyError
from evidence_app.package.keys.keylist import (
    DeviceKey,
    Status,
    open_key_list,
    sign_key_list,
    signature_path,
    write_key_list,
)
from tests.making import DEPOT, make_key

NOW = datetime(2026, 3, 1, tzinfo=UTC)
DAY = timedelta(days=1)
DEPOT_KEY = make_key(9)
DEVICE = make_key(1)


def entry(**changes) -> DeviceKey:
    given = {
        "sha256": DEVICE.sha256,
        "owner": "M. Okafor-Lind",
        "label": "tablet 3",
        "valid_from": NOW,
        "valid_until": NOW + 365 * DAY,
    }
    return DeviceKey(**(given | changes))


@pytest.fixture
def path(tmp_path):
    write_key_list(tmp_path / "keys.toml", DEPOT, NOW, [entry()], DEPOT_KEY)
    return tmp_path / "keys.toml"


def status(tmp_path, at, **changes) -> Status:
    path = tmp_path / "keys.toml"
    write_key_list(path, DEPOT, NOW, [entry(**changes)], DEPOT_KEY)
    return open_key_list(path).look_up(DEVICE.sha256, at).status


def test_a_listed_key_is_valid_within_its_time(tmp_path):
    assert status(tmp_path, NOW + DAY) is Status.VALID


def test_a_key_is_valid_from_the_first_moment_on(tmp_path):
    assert status(tmp_path, NOW) is Status.VALID


def test_a_key_is_not_valid_before_its_time(tmp_path):
    assert status(tmp_path, NOW - timedelta(milliseconds=1)) is Status.NOT_YET_VALID


def test_a_key_expires_at_its_end(tmp_path):
    assert status(tmp_path, NOW + 365 * DAY) is Status.EXPIRED


def test_a_key_is_revoked_from_the_revocation_on(tmp_path):
    assert status(tmp_path, NOW + 2 * DAY, revoked_at=NOW + 2 * DAY) is Status.REVOKED


def test_a_revocation_afterwards_is_told_apart(tmp_path):
    assert status(tmp_path, NOW + DAY, revoked_at=NOW + 2 * DAY) is Status.REVOKED_LATER


def test_a_revocation_outweighs_the_end_of_validity(tmp_path):
    assert status(tmp_path, NOW + 400 * DAY, revoked_at=NOW + 2 * DAY) is Status.REVOKED


def test_times_of_other_offsets_are_compared_as_moments(tmp_path):
    offset = datetime.fromisoformat("2026-03-01T00:30:00+01:00")
    assert status(tmp_path, offset) is Status.NOT_YET_VALID


def test_an_unlisted_key_is_unknown(path):
    assert open_key_list(path).look_up(make_key(2).sha256, NOW).status is Status.UNKNOWN


def test_the_answer_names_owner_tablet_and_the_date_of_the_list(path):
    sentence = str(open_key_list(path).look_up(DEVICE.sha256, NOW).sentence)
    assert all(words in sentence for words in ("M. Okafor-Lind", "tablet 3", DEPOT, "2026-03-01T00:00"))


def test_the_answer_gives_the_reason_of_a_revocation(tmp_path):
    path = tmp_path / "keys.toml"
    lost = entry(revoked_at=NOW + DAY, reason="tablet lost overboard")
    write_key_list(path, DEPOT, NOW, [lost], DEPOT_KEY)
    assert "tablet lost overboard" in str(open_key_list(path).look_up(DEVICE.sha256, NOW).sentence)


def test_a_list_may_be_empty(tmp_path):
    write_key_list(tmp_path / "keys.toml", DEPOT, NOW, [], DEPOT_KEY)
    assert open_key_list(tmp_path / "keys.toml").device_keys == ()


def test_a_list_edited_by_hand_needs_a_new_signature(path):
    path.write_text(path.read_text().replace("2027-03-01", "2037-03-01"))
    with pytest.raises(SigningKeyError, match="signature does not hold"):
        open_key_list(path)


def test_a_list_edited_and_signed_again_is_read(path):
    path.write_text("# checked by desk 2\n" + path.read_text())
    sign_key_list(path, DEPOT_KEY)
    assert open_key_list(path).depot == DEPOT


def test_a_list_signed_by_another_key_is_refused(path):
    signature_path(path).write_bytes(make_key(8).sign(path.read_bytes()))
    with pytest.raises(SigningKeyError, match="signature does not hold"):
        open_key_list(path)


def test_another_depots_key_can_be_asked_for(path, tmp_path):
    (tmp_path / "other.pem").write_bytes(make_key(8).public_pem)
    with pytest.raises(SigningKeyError, match="signature does not hold"):
        open_key_list(path, tmp_path / "other.pem")


def test_the_answer_says_that_the_depots_key_lay_beside_the_list(path):
    said = str(open_key_list(path).look_up(DEVICE.sha256, NOW).sentence)
    assert f"depot key {DEPOT_KEY.sha256[:16]}…, found next to the list" in said


def test_the_answer_does_not_say_so_of_a_key_from_elsewhere(path, tmp_path):
    (tmp_path / "own.pem").write_bytes(DEPOT_KEY.public_pem)
    said = str(open_key_list(path, tmp_path / "own.pem").look_up(DEVICE.sha256, NOW).sentence)
    assert f"depot key {DEPOT_KEY.sha256[:16]}…)" in said


def test_a_second_depot_cannot_sign_over_the_first(path):
    with pytest.raises(SigningKeyError, match="not the one that signs"):
        sign_key_list(path, make_key(8))


@pytest.mark.parametrize("missing", ["keys.toml", "keys.toml.sig", "depot-key.pem"])
def test_a_missing_file_of_the_three_is_named(path, missing):
    path.with_name(missing).unlink()
    with pytest.raises(SigningKeyError, match=missing):
        open_key_list(path)


def signed(path, text: str) -> None:
    path.write_text(text)
    signature_path(path).write_bytes(DEPOT_KEY.sign(path.read_bytes()))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("owner", "ownr", "ownr"),
        ('owner = "M. Okafor-Lind"\n', "", "owner"),
        ("2026-03-01T00:00:00Z", "2026-03-01T00:00:00", "timezone"),
        ("2027-03-01T00:00:00Z", "2025-03-01T00:00:00Z", "valid-until that is not after"),
        (DEVICE.sha256, DEVICE.sha256[:-1], "sha256"),
        ("format = 1", "format = 2", "format"),
        ("format = 1", "format = ", "cannot be read"),
    ],
)
def test_an_unsound_list_is_a_clear_error_even_when_signed(path, old, new, said):
    signed(path, path.read_text().replace(old, new))
    with pytest.raises(SigningKeyError, match=said):
        open_key_list(path)


def test_a_key_listed_twice_is_refused(path):
    text = path.read_text()
    signed(path, text + "\n" + text[text.index("[[device-keys]]") :])
    with pytest.raises(SigningKeyError, match="twice"):
        open_key_list(path)


def test_an_unsound_list_is_not_signed(path):
    before = signature_path(path).read_bytes()
    path.write_text(path.read_text().replace("owner", "ownr"))
    with pytest.raises(SigningKeyError):
        sign_key_list(path, DEPOT_KEY)
    assert signature_path(path).read_bytes() == before
