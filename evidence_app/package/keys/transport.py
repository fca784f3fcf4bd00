"""Encrypting a package on its way to the desk (the age format, X25519 recipients).

Protects the claimant's data in transit, nothing else: the evidence stands by
the seal inside. Files are streamed, so a package of any size fits. Whoever has
the desk's identity file can open what was encrypted to it; keep it off tablets.
"""

from pathlib import Path
from typing import BinaryIO

import pyrage
from pyrage import x25519

from evidence_app import limits
from evidence_app.errors import EvidenceError, PackageError, SigningKeyError, turned
from evidence_app.package.durable import durable_file, refuse_existing, write_durably
from evidence_app.reading import open_named, read_named
from evidence_app.sentence import sentence, sentences_beside

_WORDS = sentences_beside(__file__)

SUFFIX = ".age"
_THERE = sentence("there is a file of this name already and it is not replaced")


def make_desk_identity(path: Path) -> str:
    """Make the desk's identity, readable by this user only; returns its public recipient.

    Raises SigningKeyError when the file exists already: it is never replaced.
    """
    there = sentence("there is an identity already and it is not replaced")
    refuse_existing(path, there, SigningKeyError)
    identity = x25519.Identity.generate()
    recipient = str(identity.to_public())
    text = f"# public key: {recipient}\n{identity}\n"
    write_durably(path, text.encode(), mode=0o600, error=SigningKeyError)
    return recipient


def check_recipient(recipient: str) -> x25519.Recipient:
    """The desk's public key that ``recipient`` spells. Raises SigningKeyError."""
    what = sentence("this is not a recipient that packages can be encrypted to ({error})")
    remedy = sentence("give the desk's public key, which begins with age1")
    with turned(pyrage.RecipientError, SigningKeyError, what, recipient[:80], remedy):
        return x25519.Recipient.from_str(recipient.strip())


def encrypt_package(package: Path, recipient: str) -> Path:
    """Encrypt ``package`` to the desk's ``recipient`` (``age1…``).

    Writes ``<package>.age``; the package stays. Raises
    SigningKeyError for a bad recipient, PackageError when the target exists or
    a file cannot be used, StorageFull.
    """
    desk = check_recipient(recipient)
    target = package.with_name(package.name + SUFFIX)
    refuse_existing(target, _THERE, PackageError)
    with open_named(package, error=PackageError) as source, durable_file(target) as file:
        out = _Target(file)
        try:
            pyrage.encrypt_io(source, out, [desk])
        except (pyrage.EncryptError, OSError) as error:
            raise out.trouble or error from error
    return target


def decrypt_package(encrypted: Path, identity_file: Path) -> Path:
    """Decrypt what :func:`encrypt_package` wrote; nothing appears unless all of it is sound.

    Raises SigningKeyError for an identity that cannot be read, PackageError
    when it is not the right one or the file was altered or cut.
    """
    identity = _read_identity(identity_file)
    if encrypted.suffix != SUFFIX:
        raise PackageError.worded(_WORDS["suffix"], str(encrypted), SUFFIX=SUFFIX)
    target = encrypted.with_suffix("")
    refuse_existing(target, _THERE, PackageError)
    with open_named(encrypted, error=PackageError) as source, durable_file(target) as file:
        out = _Target(file)
        try:
            pyrage.decrypt_io(source, out, [identity])
        except (pyrage.DecryptError, OSError) as error:
            raise out.trouble or PackageError.worded(
                _WORDS["not-decrypted"], str(encrypted), error=error
            ) from error
    return target


class _Target:
    """The file being written. Keeps the system's own error (a full disk, for
    instance), of which the age library passes on the text only."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self.trouble: OSError | None = None

    def write(self, data: bytes) -> int:
        try:
            return self._file.write(data)
        except OSError as error:
            self.trouble = error
            raise

    def flush(self) -> None:
        self._file.flush()


def _read_identity(path: Path) -> x25519.Identity:
    what = sentence("the desk's identity cannot be read")
    remedy = sentence("give the file that was made for this desk")
    wrong = (EvidenceError, UnicodeError, StopIteration, pyrage.IdentityError)
    with turned(wrong, SigningKeyError, what, str(path), remedy):
        lines = read_named(path, limits.TRANSPORT_KEY_BYTES).decode("ascii").splitlines()
        secret = next(line for line in lines if line.startswith("AGE-SECRET-KEY-"))
        return x25519.Identity.from_str(secret.strip())
