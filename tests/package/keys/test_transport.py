"""Encrypted transport: only the desk opens it, and only whole."""

from __future__ import annotations

import stat
import subprocess
import sys

import pytest

from evidence_app.errors import PackageError, SigningKeyError
from evidence_app.package.keys.transport import decrypt_package, encrypt_package, make_desk_identity

CONTENT = bytes(range(256)) * 1200


@pytest.fixture
def desk(tmp_path):
    """The desk's identity file and recipient."""
    return tmp_path / "desk.txt", make_desk_identity(tmp_path / "desk.txt")


@pytest.fixture
def package(tmp_path):
    path = tmp_path / "evidence-x.zip"
    path.write_bytes(CONTENT)
    return path


@pytest.fixture
def encrypted(package, desk):
    path = encrypt_package(package, desk[1])
    package.unlink()
    return path


def test_the_desk_gets_the_same_bytes(encrypted, desk):
    assert decrypt_package(encrypted, desk[0]).read_bytes() == CONTENT


def test_the_decrypted_package_has_its_name_again(encrypted, desk, package):
    assert decrypt_package(encrypted, desk[0]) == package


def test_nothing_of_the_content_can_be_read_on_the_way(encrypted):
    assert CONTENT[:64] not in encrypted.read_bytes()


def test_another_desk_cannot_open_it(encrypted, tmp_path):
    make_desk_identity(tmp_path / "other.txt")
    with pytest.raises(PackageError, match="cannot be decrypted"):
        decrypt_package(encrypted, tmp_path / "other.txt")


@pytest.mark.parametrize("at", [0, 40, 200, 150_000, -1])
def test_an_altered_byte_is_noticed_and_nothing_is_left(encrypted, desk, package, at):
    data = bytearray(encrypted.read_bytes())
    data[at] ^= 1
    encrypted.write_bytes(data)
    with pytest.raises(PackageError, match="cannot be decrypted"):
        decrypt_package(encrypted, desk[0])
    assert sorted(path.name for path in package.parent.iterdir()) == ["desk.txt", encrypted.name]


@pytest.mark.parametrize("kept", [0, 100, 65_536 + 200, -1])
def test_a_cut_file_is_noticed(encrypted, desk, kept):
    encrypted.write_bytes(encrypted.read_bytes()[:kept])
    with pytest.raises(PackageError, match="cannot be decrypted"):
        decrypt_package(encrypted, desk[0])


def test_an_existing_file_is_not_replaced(encrypted, desk, package):
    package.write_bytes(b"another")
    with pytest.raises(PackageError, match="not replaced"):
        decrypt_package(encrypted, desk[0])
    assert package.read_bytes() == b"another"


def test_an_existing_encrypted_file_is_not_replaced(encrypted, desk, package):
    package.write_bytes(CONTENT)
    with pytest.raises(PackageError, match="not replaced"):
        encrypt_package(package, desk[1])


def test_the_identity_is_for_this_user_only(desk):
    assert stat.S_IMODE(desk[0].stat().st_mode) == 0o600


def test_an_identity_is_never_replaced(desk):
    with pytest.raises(SigningKeyError, match="not replaced"):
        make_desk_identity(desk[0])


@pytest.mark.parametrize("recipient", ["", "age1qqqq", "AGE-SECRET-KEY-1", "M. Okafor-Lind"])
def test_a_bad_recipient_is_a_clear_error(package, recipient):
    with pytest.raises(SigningKeyError, match="not a recipient"):
        encrypt_package(package, recipient)


def test_a_missing_package_is_a_clear_error(desk, tmp_path):
    with pytest.raises(PackageError, match="cannot be read"):
        encrypt_package(tmp_path / "none.zip", desk[1])


def test_an_identity_file_without_identity_is_a_clear_error(encrypted, tmp_path):
    (tmp_path / "desk.txt").write_text("hello\n")
    with pytest.raises(SigningKeyError, match="identity cannot be read"):
        decrypt_package(encrypted, tmp_path / "desk.txt")


def test_a_full_disk_is_said_and_leaves_nothing(package, desk):
    script = (
        "import resource, sys; from pathlib import Path\n"
        "from evidence_app.errors import StorageFull\n"
        "from evidence_app.package.keys.transport import encrypt_package\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))\n"
        "try: encrypt_package(Path(sys.argv[1]), sys.argv[2])\n"
        "except StorageFull: print('full')\n"
    )
    run = subprocess.run([sys.executable, "-c", script, package, desk[1]], capture_output=True, text=True)
    left = sorted(path.name for path in package.parent.iterdir())
    assert (run.stdout, left) == ("full\n", ["desk.txt", package.name])
