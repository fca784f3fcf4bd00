"""Time tokens: asked for, attached without touching the rest, checked offline."""

from __future__ import annotations

import shutil
import subprocess
import zipfile
from datetime import UTC, datetime, timedelta

import pytest

from evidence_app.errors import PackageError
from evidence_app.package.keys.timestamp import attach_token, check_token, make_request, read_token
from tests.making import make_package
from tests.package.conftest import TimeAuthority


@pytest.fixture(scope="module")
def sealed(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("sealed")).path


@pytest.fixture
def package(sealed, tmp_path):
    return shutil.copy(sealed, tmp_path / sealed.name)


@pytest.fixture(scope="module")
def signature(sealed):
    return entry(sealed, "seal.sig")


@pytest.fixture(scope="module")
def token(sealed, authority):
    return authority.answer(make_request(sealed))


def entry(package, name: str) -> bytes:
    with zipfile.ZipFile(package) as archive:
        top = archive.namelist()[0].partition("/")[0]
        return archive.read(f"{top}/{name}")


def test_the_token_gives_the_time(token, signature, authority):
    at = check_token(token, signature, authority.root).at
    assert abs(at - datetime.now(UTC)) < timedelta(minutes=5)


def test_the_token_gives_accuracy_and_authority(token, signature, authority):
    time = check_token(token, signature, authority.root)
    assert (time.accuracy, time.authority) == (timedelta(seconds=1), "CN=Northquay time signer")


def test_a_token_that_holds_its_chain_is_read_too(sealed, signature, authority):
    token = authority.answer(make_request(sealed), "-chain", "ca.pem")
    assert check_token(token, signature, authority.root).authority == "CN=Northquay time signer"


def test_a_token_that_was_only_read_names_no_authority(token, signature):
    assert read_token(token, signature).authority == ""


def test_no_two_requests_are_the_same(sealed):
    assert make_request(sealed) != make_request(sealed)


def test_another_authority_does_not_count(token, signature, tmp_path):
    other = TimeAuthority(tmp_path / "other")
    with pytest.raises(PackageError, match="does not hold under the given authority"):
        check_token(token, signature, other.root)


def test_a_token_for_another_seal_is_refused(token, authority):
    with pytest.raises(PackageError, match="something else than this seal"):
        check_token(token, bytes(64), authority.root)


def test_no_altered_byte_makes_the_token_say_something_else(token, signature, authority):
    """A few bytes around the signature are bound by nothing in CMS (RFC 5652 5.3), such as
    the spelling of an algorithm's parameters; altering them must not change the answer."""
    said = check_token(token, signature, authority.root)
    refused = 0
    for at in range(0, len(token), 7):
        altered = bytearray(token)
        altered[at] ^= 0x01
        try:
            assert check_token(bytes(altered), signature, authority.root) == said
        except PackageError:
            refused += 1
    assert refused > 0.9 * len(token) / 7


@pytest.mark.parametrize("data", [b"", b"\x30", b"\x30\x80\x00\x00", b"0" * 50, bytes(2_000_000)])
def test_something_else_is_a_clear_error(data, signature):
    with pytest.raises(PackageError, match="not a time token"):
        read_token(data, signature)


def test_a_cut_token_is_a_clear_error(token, signature):
    for kept in range(0, len(token), 50):
        with pytest.raises(PackageError, match="not a time token"):
            read_token(token[:kept], signature)


def test_a_refused_request_is_said(signature, sealed, authority):
    request = make_request(sealed)
    refusal = authority.answer(request.replace(b"\x03\x04\x02\x01", b"\x03\x04\x02\x02"))
    with pytest.raises(PackageError, match="the authority refused"):
        read_token(refusal, signature)


def test_a_file_without_certificates_is_a_clear_error(token, signature):
    with pytest.raises(PackageError, match="no usable certificate"):
        check_token(token, signature, b"-----BEGIN CERTIFICATE-----\n")


# --- attaching ---------------------------------------------------------------------------


def test_the_attached_token_is_there(package, token):
    attach_token(package, token)
    assert entry(package, "seal.tsr") == token


def test_attaching_leaves_every_other_byte(package, sealed, token):
    with zipfile.ZipFile(sealed) as archive:
        before = sealed.read_bytes()[: archive.start_dir]
    attach_token(package, token)
    assert package.read_bytes()[: len(before)] == before


def test_attaching_keeps_the_list_of_the_other_files(package, sealed, token):
    def listed(path):
        with zipfile.ZipFile(path) as archive:
            return [(i.filename, i.header_offset, i.CRC, i.date_time) for i in archive.infolist()]

    attach_token(package, token)
    assert listed(package)[:-1] == listed(sealed)


def test_attaching_twice_changes_nothing(package, token):
    attach_token(package, token)
    once = package.read_bytes()
    attach_token(package, token)
    assert package.read_bytes() == once


def test_a_second_token_does_not_replace_the_first(package, sealed, token, authority):
    attach_token(package, token)
    once = package.read_bytes()
    with pytest.raises(PackageError, match="another time token"):
        attach_token(package, authority.answer(make_request(sealed)))
    assert package.read_bytes() == once


def test_a_token_for_another_package_is_not_attached(package, sealed, tmp_path, authority):
    other = make_package(tmp_path / "other").path
    with pytest.raises(PackageError, match="something else"):
        attach_token(package, authority.answer(make_request(other)))
    assert package.read_bytes() == sealed.read_bytes()


def test_openssl_accepts_the_attached_token(package, token, authority, tmp_path):
    """The line that a stranger would use: the token covers seal.sig."""
    attach_token(package, token)
    for name in ("seal.sig", "seal.tsr"):
        (tmp_path / name).write_bytes(entry(package, name))
    command = f"ts -verify -data seal.sig -in seal.tsr -CAfile {authority.folder}/ca.pem"
    run = subprocess.run(["openssl", *command.split()], cwd=tmp_path, capture_output=True)
    assert b"Verification: OK" in run.stdout + run.stderr


@pytest.mark.parametrize("content", [b"", b"PK", b"x" * 1000])
def test_something_that_is_no_package_is_a_clear_error(tmp_path, content):
    (tmp_path / "x.zip").write_bytes(content)
    with pytest.raises(PackageError, match="not a sealed package"):
        make_request(tmp_path / "x.zip")


def test_a_missing_package_is_a_clear_error(tmp_path):
    with pytest.raises(PackageError, match="not a sealed package"):
        make_request(tmp_path / "x.zip")


def test_a_package_that_was_added_to_gets_no_token(package, token):
    package.write_bytes(package.read_bytes() + b"..")
    with pytest.raises(PackageError, match="not a sealed package: 2 bytes follow"):
        attach_token(package, token)
    assert package.read_bytes().endswith(b"..")
