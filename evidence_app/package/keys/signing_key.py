"""Ed25519 signing keys: the device's and the depot's.

A key file is PKCS#8 PEM (RFC 5958), encrypted under a PIN by scrypt (RFC 7914)
and AES-256-CBC (PBES2, RFC 8018), so that ``openssl pkey`` opens it too. The
PIN keeps a finder of the tablet out; it does not resist somebody who copies
the file and tries a million PINs elsewhere. Losing the device is answered by
revoking its key in the depot's key list, not by the PIN.
"""

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path

from Crypto.PublicKey import ECC
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)
from filelock import FileLock

from evidence_app import limits
from evidence_app.errors import SigningKeyError
from evidence_app.package.durable import refuse_existing, storage_errors, write_durably
from evidence_app.package.keys.pin_delay import PinDelay
from evidence_app.reading import read_named
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.sentence import sentence, sentences_beside
from evidence_app.system_calls import leave_no_core

SHORTEST_PIN = 6
_WORDS = sentences_beside(__file__)

# OWASP's scrypt setting for 16 MiB of memory, the most that OpenSSL's default
# bound of 32 MiB lets `openssl pkey` open; the five lanes make up for it.
_SCRYPT = {"iteration_count": 2**14, "block_size": 8, "parallelization": 5, "salt_size": 16}

# Every encoding of a point whose order divides 8 (RFC 7748 section 7 and the
# list in "Taming the many EdDSAs", 2020). A signature under one of these says
# nothing: 01 00…00 accepts any message. Two sign bits for each y.
_SHORT_ORDER_Y = (
    "0000000000000000000000000000000000000000000000000000000000000000",
    "0100000000000000000000000000000000000000000000000000000000000000",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
)
SHORT_ORDER = frozenset(
    bytes.fromhex(y)[:31] + bytes([bytes.fromhex(y)[31] | sign])
    for y in _SHORT_ORDER_Y
    for sign in (0x00, 0x80)
)


class SigningKey:
    """An opened private key. Keep it no longer than the sealing takes. ``folder`` is where its
    file stands, with what was signed about it; None for a key without a file."""

    def __init__(self, private: Ed25519PrivateKey, folder: Path | None = None) -> None:
        leave_no_core()
        self.folder = folder
        self._private = private
        self.public = private.public_key()
        self.public_pem = public_pem(self.public)
        self.sha256 = key_sha256(self.public)

    def sign(self, data: bytes) -> bytes:
        """Raw 64-byte signature (RFC 8032 5.1.6); the same bytes each time."""
        return self._private.sign(data)


def create_key(path: Path, pin: str | None, *, unencrypted: bool = False) -> SigningKey:
    """Make a new key and write it to ``path``, readable by this user only.

    Without a PIN only when ``unencrypted`` says so. Raises SigningKeyError when
    the PIN is too weak or the file exists (a key is never replaced: packages
    sealed with it would lose their known signer).
    """
    if (pin is None) != unencrypted:
        raise SigningKeyError.worded(_WORDS["pin-or-none"], str(path))
    if pin is not None:
        check_new_pin(pin)
    with _one_at_a_time(path):
        there = sentence("there is a key already and it is not replaced")
        refuse_existing(path, there, SigningKeyError)
        private = Ed25519PrivateKey.generate()
        write_durably(path, _private_pem(private, pin), mode=0o600, error=SigningKeyError)
    return SigningKey(private, path.parent)


def open_key(path: Path, pin: str | None = None, clock: Clock | None = None) -> SigningKey:
    """Open the key in ``path``; ``pin`` is None for an unencrypted one.

    Raises SigningKeyError when the file is missing or no Ed25519 key, when the
    PIN is missing or wrong, and while the delay after wrong PINs runs. One
    attempt at a time, also between processes.
    """
    data = _read_key_file(path)
    if b"ENCRYPTED" not in data:
        return SigningKey(_private_of(data, None, path), path.parent)
    if pin is None:
        raise SigningKeyError.worded(_WORDS["no-pin"], str(path))
    with _one_at_a_time(path):
        delay = PinDelay(path, clock or SystemClock())
        delay.begin_attempt()
        private = _private_of(data, pin, path)
        delay.succeeded()
    return SigningKey(private, path.parent)


def change_pin(path: Path, pin: str, new_pin: str, clock: Clock | None = None) -> SigningKey:
    """Encrypt the key in ``path`` under ``new_pin``; the key stays the same one.

    The file is replaced whole or not at all, so after a power cut exactly one of the
    two PINs opens it. Raises SigningKeyError when the new PIN is too weak, when ``pin``
    is wrong and while the delay after wrong PINs runs; StorageFull. The old file is
    untouched then.
    """
    check_new_pin(new_pin)
    key = open_key(path, pin, clock)
    with _one_at_a_time(path):
        write_durably(path, _private_pem(key._private, new_pin), mode=0o600, error=SigningKeyError)
    return key


def check_new_pin(pin: str) -> None:
    """Raises SigningKeyError unless the PIN has six digits or more that are
    neither all the same nor a plain run (123456, 987654)."""
    steps = {ord(b) - ord(a) for a, b in pairwise(pin)}
    if not (pin.isascii() and pin.isdigit() and SHORTEST_PIN <= len(pin) <= limits.PIN_LENGTH):
        raise SigningKeyError.worded(_WORDS["no-such-pin"], least=SHORTEST_PIN, most=limits.PIN_LENGTH)
    if steps in ({0}, {1}, {-1}):
        raise SigningKeyError.worded(_WORDS["plain-pin"])


def public_pem(key: Ed25519PublicKey) -> bytes:
    """SubjectPublicKeyInfo as PEM (RFC 7468), lines ended by LF."""
    return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


def key_sha256(key: Ed25519PublicKey) -> str:
    """SHA-256 of the DER SubjectPublicKeyInfo, 64 hex digits: the key's name."""
    der = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return hashlib.sha256(der).hexdigest()


def read_public_key(pem: bytes, where: str) -> Ed25519PublicKey:
    """The public key in ``pem``. Raises SigningKeyError for anything that is not
    exactly one Ed25519 key, and for a key of short order."""
    try:
        if len(pem) > limits.KEY_FILE_BYTES:
            raise ValueError("the file is too large for a key")
        key = load_pem_public_key(pem)
        if not isinstance(key, Ed25519PublicKey):
            raise ValueError("it is a key of another kind")
    except (ValueError, UnsupportedAlgorithm) as error:
        raise SigningKeyError.worded(_WORDS["unusable"], where, problem=error) from error
    refuse_short_order(key, where)
    if public_pem(key) != pem:
        raise SigningKeyError(
            sentence("there is something besides the one public key in this file"), where=where
        )
    return key


def refuse_short_order(key: Ed25519PublicKey, where: str) -> None:
    """Raises SigningKeyError for a key under which anybody's signature passes."""
    if key.public_bytes(Encoding.Raw, PublicFormat.Raw) in SHORT_ORDER:
        raise SigningKeyError(
            sentence("this key is of short order: a signature under it proves nothing"), where=where
        )


def signature_holds(key: Ed25519PublicKey, signature: bytes, data: bytes) -> bool:
    """Does the raw signature (64 bytes) hold over exactly these bytes?

    A key of short order is refused with SigningKeyError, because the library
    accepts it.
    """
    refuse_short_order(key, "public key")
    try:
        key.verify(signature, data)
    except InvalidSignature:
        return False
    return True


def _private_pem(private: Ed25519PrivateKey, pin: str | None) -> bytes:
    if pin is None:
        return private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    # The library used elsewhere here writes PBKDF2 only, hence the second library for this one line.
    der = private.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    pem = ECC.import_key(der).export_key(  # type: ignore[call-overload]  # its stubs keep the type of prot_params to themselves
        format="PEM", passphrase=pin, use_pkcs8=True, protection="scryptAndAES256-CBC", prot_params=_SCRYPT
    )
    return pem.encode("ascii") + b"\n"


def _private_of(data: bytes, pin: str | None, path: Path) -> Ed25519PrivateKey:
    """Raises SigningKeyError; a wrong PIN and a damaged file look the same."""
    try:
        private = load_pem_private_key(data, None if pin is None else pin.encode("utf-8"))
        if not isinstance(private, Ed25519PrivateKey):
            raise ValueError("it is a key of another kind")
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        if pin is None:
            raise SigningKeyError.worded(_WORDS["unusable"], str(path), problem=error) from error
        raise SigningKeyError.worded(_WORDS["wrong-pin"], str(path)) from error
    return private


def _read_key_file(path: Path) -> bytes:
    if not os.path.lexists(path):
        raise SigningKeyError.worded(_WORDS["no-key"], str(path))
    data = read_named(path, error=SigningKeyError)
    if len(data) > limits.KEY_FILE_BYTES or b"PRIVATE KEY" not in data:
        problem = "no PEM private key in the file"
        raise SigningKeyError.worded(_WORDS["unusable"], str(path), problem=problem)
    return data


@contextmanager
def _one_at_a_time(path: Path) -> Iterator[None]:
    """One process at a time makes or tries this key."""
    with storage_errors(path, SigningKeyError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(path.with_name(f"{path.name}.lock")):
            yield
