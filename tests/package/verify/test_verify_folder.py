"""Packages that were unpacked: what a folder can hold and a ZIP file cannot."""

from __future__ import annotations

import os
import shutil

import pytest

from evidence_app.errors import PackageError
from evidence_app.package.verify.check import verify
from evidence_app.package.zip.archive import open_archive, read_all

PHOTOS = "data/photos"


def a_photo(folder):
    return next((folder / PHOTOS).iterdir())


def test_altered_byte_is_found(unpacked):
    photo = a_photo(unpacked)
    data = bytearray(photo.read_bytes())
    data[100] ^= 1
    photo.write_bytes(data)
    assert verify(unpacked).failed == ("checksums",)


def test_removed_photo_is_found(unpacked):
    a_photo(unpacked).unlink()
    assert "checksums" in verify(unpacked).failed


def test_added_file_is_found(unpacked):
    (unpacked / "Thumbs.db").write_bytes(b"x")
    check = verify(unpacked).check("nothing-extra")
    assert tuple(map(str, check.items)) == ("Thumbs.db: does not belong to the package",)


def test_empty_folder_is_found(unpacked):
    (unpacked / "data" / "more" / "empty").mkdir(parents=True)
    check = verify(unpacked).check("nothing-extra")
    assert tuple(map(str, check.items)) == ("data/more/empty/: is a folder without files",)


def test_link_in_place_of_a_photo_is_refused(unpacked, tmp_path):
    photo = a_photo(unpacked)
    elsewhere = tmp_path / "elsewhere.jpg"
    shutil.move(photo, elsewhere)
    photo.symlink_to(elsewhere)
    result = verify(unpacked)
    assert result.failed == ("archive",)
    assert "is a symbolic link" in str(result.check("archive").items[0])


def test_link_in_place_of_a_folder_is_refused(unpacked, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    shutil.move(unpacked / PHOTOS, elsewhere)
    (unpacked / PHOTOS).symlink_to(elsewhere)
    assert verify(unpacked).failed == ("archive",)


def test_pipe_is_refused_and_not_waited_for(unpacked):
    os.mkfifo(unpacked / PHOTOS / "more.jpg")
    assert "is not a regular file" in str(verify(unpacked).check("archive").items[0])


def test_names_that_differ_in_case_are_refused(unpacked):
    (unpacked / "Seal.json").write_bytes(b"{}")
    assert "in other case" in str(verify(unpacked).check("archive").items[0])


def test_name_outside_ascii_is_refused(unpacked):
    (unpacked / "data" / "é.txt").write_bytes(b"x")
    assert "outside ASCII" in str(verify(unpacked).check("archive").items[0])


def test_folder_may_have_any_name(unpacked, tmp_path):
    renamed = unpacked.rename(tmp_path / "from the disk")
    assert verify(renamed).failed == ()


def test_folder_without_a_bag_is_no_package(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"x")
    with pytest.raises(PackageError, match="not a package"):
        verify(tmp_path)


def test_empty_folder_is_no_package(tmp_path):
    with pytest.raises(PackageError, match="not a package"):
        verify(tmp_path)


def test_nothing_there_is_no_package(tmp_path):
    with pytest.raises(PackageError, match="no such file"):
        verify(tmp_path / "missing.zip")


def test_encrypted_package_is_named_as_such(tmp_path):
    path = tmp_path / "sent.age"
    path.write_bytes(b"age-encryption.org/v1\n-> X25519 abc\n")
    with pytest.raises(PackageError, match="encrypted for transport"):
        verify(path)


def test_file_that_changes_after_it_was_listed_is_not_read(unpacked):
    archive = open_archive(unpacked)
    photo = a_photo(unpacked)
    photo.write_bytes(photo.read_bytes() + b"x")
    with pytest.raises(PackageError, match="changed or went away"):
        read_all(archive, f"{PHOTOS}/{photo.name}", 10**6)


def test_package_that_goes_away_while_it_is_read_is_an_error(sound, tmp_path):
    path = tmp_path / "on the stick.zip"
    path.write_bytes(sound.path.read_bytes())
    archive = open_archive(path)
    path.unlink()
    with pytest.raises(PackageError) as caught:
        read_all(archive, "seal.json", 10**6)
    assert caught.value.exit_status == 2


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads everything")
def test_unreadable_file_is_an_error(unpacked):
    a_photo(unpacked).chmod(0)
    with pytest.raises(PackageError, match="reading failed"):
        verify(unpacked)
