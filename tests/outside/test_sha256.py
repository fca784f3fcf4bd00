"""SHA-256 as the record uses it, against published example vectors.

Source: FIPS 180-4 with the NIST examples "SHA256.pdf" (abc; the 448-bit message) of
csrc.nist.gov/projects/cryptographic-standards-and-guidelines/example-values; the empty message
and the million "a" are from the NIST SHA test vectors for hashing byte-oriented messages.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from evidence_app.record.clock import SystemClock
from evidence_app.record.event import chain_hash
from evidence_app.record.originals import hash_file
from evidence_app.record.record import Record

VECTORS = {
    b"": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
    b"a" * 1_000_000: "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
}
vectors = pytest.mark.parametrize(
    ("message", "digest"), VECTORS.items(), ids=["empty", "abc", "448 bits", "million a"]
)


@pytest.fixture
def record(tmp_path: Path):
    with Record.create(tmp_path / "job", SystemClock()) as made:
        yield made


@vectors
def test_original_from_memory_is_named_by_its_sha256(record, message, digest):
    assert record.store(message, "application/octet-stream").sha256 == digest


@vectors
def test_original_from_a_file_is_named_by_its_sha256(record, tmp_path, message, digest):
    source = tmp_path / "message"
    source.write_bytes(message)
    assert record.store(source, "application/octet-stream").sha256 == digest


@vectors
def test_file_is_checked_by_its_sha256(tmp_path, message, digest):
    path = tmp_path / "message"
    path.write_bytes(message)
    assert hash_file(path) == digest


@pytest.mark.parametrize("cut", [0, 1, 55, 56])
def test_chain_hash_is_sha256_of_both_parts_joined(cut):
    message = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"
    assert chain_hash(message[:cut].decode(), message[cut:]) == VECTORS[message]
