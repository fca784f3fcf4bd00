"""Ed25519 against RFC 8032 and OpenSSL; short-order points against the curve itself."""

from __future__ import annotations

import subprocess

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from evidence_app.package.keys.signing_key import SHORT_ORDER, SigningKey, create_key, signature_holds

# RFC 8032 section 7.1, tests 1 to 3: secret key, public key, message, signature.
RFC_8032_7_1 = {
    "test 1": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    "test 2": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    "test 3": (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
        "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
}


@pytest.fixture(params=RFC_8032_7_1.values(), ids=RFC_8032_7_1.keys())
def vector(request) -> tuple[bytes, bytes, bytes, bytes]:
    return tuple(bytes.fromhex(text) for text in request.param)


def test_signing_gives_the_published_signature(vector):
    """RFC 8032 section 7.1."""
    secret, _, message, signature = vector
    assert SigningKey(Ed25519PrivateKey.from_private_bytes(secret)).sign(message) == signature


def test_the_published_public_key_follows_from_the_secret(vector):
    """RFC 8032 section 7.1."""
    secret, public, _, _ = vector
    key = SigningKey(Ed25519PrivateKey.from_private_bytes(secret))
    assert key.public.public_bytes(Encoding.Raw, PublicFormat.Raw) == public


def test_the_published_signature_holds(vector):
    """RFC 8032 section 7.1."""
    _, public, message, signature = vector
    assert signature_holds(Ed25519PublicKey.from_public_bytes(public), signature, message)


def test_the_published_signature_does_not_hold_for_more(vector):
    """RFC 8032 section 7.1 vectors with one byte added to the message."""
    _, public, message, signature = vector
    key = Ed25519PublicKey.from_public_bytes(public)
    assert not signature_holds(key, signature, message + b"\0")


def test_a_signature_with_s_beyond_the_group_order_does_not_hold(vector):
    """RFC 8032 section 5.1.7 step 1: S must be below L, or every signature had a twin."""
    _, public, message, signature = vector
    s = int.from_bytes(signature[32:], "little") + ORDER
    twin = signature[:32] + s.to_bytes(32, "little")
    assert not signature_holds(Ed25519PublicKey.from_public_bytes(public), twin, message)


# --- the curve of RFC 8032 section 5.1, in plain integers -------------------------------

P = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P


def decode(raw: bytes) -> tuple[int, int] | None:
    """The point that the 32 bytes encode, y taken modulo p; None when there is none."""
    encoded = int.from_bytes(raw, "little")
    y, sign = (encoded & (2**255 - 1)) % P, encoded >> 255
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    if x * x % P != square:
        x = x * pow(2, (P - 1) // 4, P) % P
    if x * x % P != square:
        return None
    return (P - x if x & 1 != sign and x else x, y)


def add(first: tuple[int, int], second: tuple[int, int]) -> tuple[int, int]:
    (x1, y1), (x2, y2) = first, second
    k = D * x1 * x2 * y1 * y2 % P
    return ((x1 * y2 + x2 * y1) * pow(1 + k, -1, P) % P, (y1 * y2 + x1 * x2) * pow(1 - k, -1, P) % P)


def times_eight(point: tuple[int, int]) -> tuple[int, int]:
    for _ in range(3):
        point = add(point, point)
    return point


@pytest.mark.parametrize("raw", sorted(SHORT_ORDER), ids=lambda raw: raw.hex()[:8])
def test_every_listed_point_is_of_short_order(raw):
    """Eight times the point is the neutral element (0, 1): curve of RFC 8032 section 5.1."""
    assert times_eight(decode(raw)) == (0, 1)


def test_no_point_of_short_order_is_missing_from_the_list():
    """The group has eight points of order dividing 8; each is found from one generator of
    them, and every 32-byte encoding of each (y or y + p, both signs where x = 0) is listed."""
    generator = next(point for raw in SHORT_ORDER if order(point := decode(raw)) == 8)
    found, point = set(), (0, 1)
    for _ in range(8):
        point = add(point, generator)
        found |= set(encodings(point))
    assert found == SHORT_ORDER


def order(point: tuple[int, int]) -> int:
    count, reached = 1, point
    while reached != (0, 1):
        reached, count = add(reached, point), count + 1
    return count


def encodings(point: tuple[int, int]) -> list[bytes]:
    x, y = point
    signs = (0, 1) if x == 0 else (x & 1,)
    return [
        (value | sign << 255).to_bytes(32, "little")
        for value in (y, y + P)
        if value < 2**255
        for sign in signs
    ]


# --- the key file, opened by OpenSSL ---------------------------------------------------


def openssl(*arguments) -> subprocess.CompletedProcess:
    return subprocess.run(["openssl", *map(str, arguments)], capture_output=True, check=False)


@pytest.fixture(scope="module")
def key_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("keys") / "device.pem"
    return path, create_key(path, "820193")


def test_openssl_opens_the_key_file_with_the_pin(key_file):
    """PKCS#8 (RFC 5958) with PBES2 (RFC 8018), scrypt (RFC 7914) and AES-256-CBC: OpenSSL 3."""
    run = openssl("pkey", "-in", key_file[0], "-passin", "pass:820193", "-pubout")
    assert run.stdout == key_file[1].public_pem


def test_openssl_does_not_open_the_key_file_with_another_pin(key_file):
    """As above."""
    run = openssl("pkey", "-in", key_file[0], "-passin", "pass:820194", "-pubout")
    assert run.returncode != 0


def test_the_key_file_names_scrypt_and_aes(key_file):
    """RFC 7914 section 7.1 (scrypt's object identifier), read by openssl asn1parse."""
    parsed = openssl("asn1parse", "-in", key_file[0]).stdout.decode().lower()
    assert "scrypt" in parsed
    assert "aes-256-cbc" in parsed
