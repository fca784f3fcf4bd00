"""Sealed packages against tools that know nothing of this app.

Accepted whole, and refused after one altered byte by every tool that covers
the altered file. What each covers, and so must refuse:

- ``unzip -t`` (Info-ZIP 6.0): the CRC-32 of every entry, when the ZIP itself was altered;
- ``sha256sum -c manifest-sha256.txt`` (GNU coreutils): the payload;
- ``sha256sum -c tagmanifest-sha256.txt``: bagit.txt, bag-info.txt, device-key.pem, the manifest;
- the ``bagit`` library (reference implementation of RFC 8493, from PyPI): both of these;
- ``openssl pkeyutl -verify`` (OpenSSL 3): seal.json, seal.sig, device-key.pem.

The seal's signature reaches the other files through the digests of both
manifests that stand in seal.json; comparing these is the last line below.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest

from tests.making import make_key, make_package


@pytest.fixture(scope="module")
def package(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("package")
    return make_package(folder, outcome="stopped", depot_key=make_key(9)).path


@pytest.fixture(scope="module")
def whole_bag(package, tmp_path_factory) -> Path:
    """The package unpacked by Info-ZIP."""
    folder = tmp_path_factory.mktemp("unpacked")
    assert run(folder, "unzip", "-q", str(package))
    return folder / package.stem


@pytest.fixture
def bag(whole_bag, tmp_path) -> Path:
    """A copy that a test may alter."""
    return shutil.copytree(whole_bag, tmp_path / whole_bag.name)


def run(folder: Path, *command: str) -> bool:
    return subprocess.run(command, cwd=folder, capture_output=True).returncode == 0


def unzip_accepts(package: Path) -> bool:
    return run(package.parent, "unzip", "-tq", package.name)


def payload_sums_accept(bag: Path) -> bool:
    return run(bag, "sha256sum", "--strict", "--status", "-c", "manifest-sha256.txt")


def tag_sums_accept(bag: Path) -> bool:
    return run(bag, "sha256sum", "--strict", "--status", "-c", "tagmanifest-sha256.txt")


def bagit_accepts(bag: Path) -> bool:
    try:
        return bagit.Bag(str(bag)).validate()
    except bagit.BagError:
        return False


def openssl_accepts(bag: Path) -> bool:
    command = "openssl pkeyutl -verify -pubin -inkey device-key.pem -rawin -in seal.json"
    return run(bag, *command.split(), "-sigfile", "seal.sig")


def seal_names_the_manifests(bag: Path) -> bool:
    seal = json.loads((bag / "seal.json").read_bytes())
    digest = {
        name: hashlib.sha256((bag / name).read_bytes()).hexdigest()
        for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt")
    }
    return digest == {
        "manifest-sha256.txt": seal["payload_manifest_sha256"],
        "tagmanifest-sha256.txt": seal["tag_manifest_sha256"],
    }


UNPACKED = (payload_sums_accept, tag_sums_accept, bagit_accepts, openssl_accepts, seal_names_the_manifests)


@pytest.mark.parametrize("accepts", UNPACKED)
def test_a_sealed_package_is_accepted(whole_bag, accepts):
    """RFC 8493, GNU coreutils, OpenSSL 3: see the head of this file."""
    assert accepts(whole_bag)


def test_a_sealed_package_is_accepted_by_unzip(package):
    """Info-ZIP UnZip 6.0, option -t: tests the CRC-32 of each entry."""
    assert unzip_accepts(package)


def test_a_package_with_a_time_token_is_accepted(bag):
    """RFC 8493 section 2.2.4: other tag files need not be in the tag manifest."""
    (bag / "seal.tsr").write_bytes(b"token")
    assert [accepts.__name__ for accepts in UNPACKED if not accepts(bag)] == []


# Which tools cover which file; a payload file is covered like the first.
COVERED: dict[str, set[Callable[[Path], bool]]] = {
    "data/photos": {payload_sums_accept, bagit_accepts},
    "data/voice": {payload_sums_accept, bagit_accepts},
    "data/markup": {payload_sums_accept, bagit_accepts},
    "data/ticket": {payload_sums_accept, bagit_accepts},
    "data/journal.jsonl": {payload_sums_accept, bagit_accepts},
    "data/record.json": {payload_sums_accept, bagit_accepts},
    "data/step-list.toml": {payload_sums_accept, bagit_accepts},
    "data/report.html": {payload_sums_accept, bagit_accepts},
    "bagit.txt": {tag_sums_accept, bagit_accepts},
    "bag-info.txt": {tag_sums_accept, bagit_accepts},
    "device-key.pem": {tag_sums_accept, bagit_accepts, openssl_accepts},
    "manifest-sha256.txt": {payload_sums_accept, tag_sums_accept, bagit_accepts, seal_names_the_manifests},
    "tagmanifest-sha256.txt": {tag_sums_accept, bagit_accepts, seal_names_the_manifests},
    "seal.json": {openssl_accepts},
    "seal.sig": {openssl_accepts},
}

ALTERED_PLACES = {"first": 0, "middle": 0.5, "last": 1}


def the_file(bag: Path, name: str) -> Path:
    """``name``, or the first file in the folder of that name."""
    path = bag / name
    return sorted(path.iterdir())[0] if path.is_dir() else path


def altered_byte(data: bytes, place: float) -> bytes:
    """``data`` with the lowest bit of one byte turned, short of a final newline."""
    length = len(data.removesuffix(b"\n"))
    at = min(int(place * length), length - 1)
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


@pytest.mark.parametrize("place", ALTERED_PLACES.values(), ids=ALTERED_PLACES.keys())
@pytest.mark.parametrize("name", COVERED)
def test_one_altered_byte_is_refused_by_every_tool_that_covers_the_file(bag, name, place):
    """The tools at the head of this file, on the unpacked package."""
    path = the_file(bag, name)
    path.write_bytes(altered_byte(path.read_bytes(), place))
    accepted = {accepts.__name__ for accepts in COVERED[name] if accepts(bag)}
    assert accepted == set()


# White space at the end of a line means nothing to OpenSSL's PEM reader and to bagit.
NEWLINE_COVERED = {
    "device-key.pem": {tag_sums_accept, bagit_accepts},
    "tagmanifest-sha256.txt": {tag_sums_accept, seal_names_the_manifests},
}


@pytest.mark.parametrize("name", NEWLINE_COVERED)
def test_an_altered_final_newline_is_refused_by_what_compares_bytes(bag, name):
    """GNU coreutils and, for the key, bagit, which hashes it like any tag file."""
    path = bag / name
    path.write_bytes(path.read_bytes()[:-1] + b"\v")
    accepted = {accepts.__name__ for accepts in NEWLINE_COVERED[name] if accepts(bag)}
    assert accepted == set()


@pytest.mark.parametrize("name", COVERED)
def test_one_altered_byte_in_the_zip_is_refused_by_unzip(package, tmp_path, name):
    """Info-ZIP UnZip 6.0; the byte is altered in the ZIP without mending its CRC-32."""
    copy = shutil.copy(package, tmp_path / package.name)
    with zipfile.ZipFile(copy) as archive:
        inside = f"{package.stem}/{name}"
        entry = next(i for i in archive.infolist() if i.filename.startswith(inside))
        start = entry.header_offset + 30 + len(entry.filename)
        content = archive.read(entry)
    with open(copy, "r+b") as file:
        file.seek(start)
        assert file.read(len(content)) == content
        file.seek(start + len(content) // 2)
        file.write(bytes([content[len(content) // 2] ^ 1]))
    assert not unzip_accepts(Path(copy))


def test_a_file_taken_out_of_the_payload_is_refused(bag):
    """GNU coreutils and RFC 8493 section 3: each listed file must be present."""
    the_file(bag, "data/photos").unlink()
    assert not (payload_sums_accept(bag) or bagit_accepts(bag))


def test_a_file_added_to_the_payload_is_refused_by_bagit(bag):
    """RFC 8493 section 3: every payload file must be listed; sha256sum cannot see this."""
    (bag / "data/photos/more.jpg").write_bytes(b"more")
    assert not bagit_accepts(bag)


def test_a_seal_of_another_package_is_refused(bag, tmp_path_factory):
    """The signature of the other seal holds, but it names other manifests."""
    other = make_package(tmp_path_factory.mktemp("other"), key=make_key()).path
    with zipfile.ZipFile(other) as archive:
        for name in ("seal.json", "seal.sig"):
            (bag / name).write_bytes(archive.read(f"{other.stem}/{name}"))
    assert (openssl_accepts(bag), seal_names_the_manifests(bag)) == (True, False)
