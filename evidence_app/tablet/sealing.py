"""Sealing from the tablet: its key, the package, its copy on a removable disk. On the worker."""

import os
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from evidence_app.errors import PackageError, SigningKeyError
from evidence_app.job.state.job_state import JobState
from evidence_app.locations import device_key_path
from evidence_app.package.durable import durable_file, storage_errors, write_durably
from evidence_app.package.keys import signing_key
from evidence_app.package.keys.pin_delay import PinDelay
from evidence_app.package.layout import SEAL, read_seal, top_folder
from evidence_app.package.seal import SealedPackage
from evidence_app.reading import sha256_of
from evidence_app.record.clock import SystemClock
from evidence_app.sentence import sentence, sentences_beside

_WORDS = sentences_beside(__file__)

MOUNTS = ("/media/", "/run/media/", "/mnt/", "/Volumes/")
"""Where systems mount what is plugged in."""

_CHUNK = 1 << 20


# --- the key ----------------------------------------------------------------------------


def public_key_path() -> Path:
    """The public half, for the depot to enter into its key list."""
    return device_key_path().with_suffix(".public.pem")


def key_needs() -> str:
    """ "new-pin" before there is a key, "pin" when it has one, "none" when unencrypted."""
    path = device_key_path()
    if not path.exists():
        return "new-pin"
    return "pin" if b"ENCRYPTED" in path.read_bytes() else "none"


def open_device_key(pin: str | None) -> signing_key.SigningKey:
    """The tablet's key; made with ``pin`` when there is none yet. Raises SigningKeyError."""
    path = device_key_path()
    key = signing_key.open_key(path, pin) if path.exists() else signing_key.create_key(path, pin)
    _write_public(key)
    return key


def change_device_pin(pin: str, new_pin: str) -> signing_key.SigningKey:
    """Raises SigningKeyError, StorageFull; one of the two PINs opens the key at any time."""
    key = signing_key.change_pin(device_key_path(), pin, new_pin)
    _write_public(key)
    return key


def wrong_pins() -> tuple[int, int]:
    """How many PINs in a row were wrong, and the seconds until another one is tried."""
    return PinDelay(device_key_path(), SystemClock()).standing()


def device_key_sha256() -> str | None:
    """The key's name, known without its PIN from the public half; None while unknown."""
    path = public_key_path()
    try:
        return signing_key.key_sha256(signing_key.read_public_key(path.read_bytes(), str(path)))
    except (OSError, SigningKeyError):
        return None


def _write_public(key: signing_key.SigningKey) -> None:
    path = public_key_path()
    if not path.exists() or path.read_bytes() != key.public_pem:
        write_durably(path, key.public_pem, error=SigningKeyError)


# --- the package -------------------------------------------------------------------------


def sealed_before(state: JobState, folder: Path) -> SealedPackage | None:
    """The package of a closed job that was sealed into ``folder``, while it is there."""
    if state.phase != "closed" or state.opened is None:
        return None
    top = top_folder(state.opened.claim, state.opened.job)
    path = folder / f"{top}.zip"
    with suppress(OSError, zipfile.BadZipFile, KeyError, PackageError), zipfile.ZipFile(path) as package:
        seal = read_seal(package.read(f"{top}/{SEAL}"))
        files = sum(name.startswith(f"{top}/data/") for name in package.namelist())
        return SealedPackage(path, seal.fingerprint, seal, files, path.stat().st_size, True)
    return None


def removable_disks() -> tuple[Path, ...]:
    """Disks that are plugged in now and can be written to."""
    import psutil

    mounted = [Path(p.mountpoint) for p in psutil.disk_partitions(all=False)]
    return tuple(p for p in mounted if f"{p}/".startswith(MOUNTS) and os.access(p, os.W_OK))


class DiskGone(PackageError):
    """The removable disk is not there any more."""


def copy_to_disk(
    package: Path, disk: Path, progress: Callable[[int, int], None] = lambda done, total: None
) -> Path:
    """A copy of ``package`` on ``disk``, read back and compared; the package stays.

    Raises DiskGone, StorageFull when the disk is full, and PackageError when another
    file has the name or what was read back differs. No half-written file is left under
    the package's name.
    """
    if disk not in removable_disks():
        # Its folder may still be there, on the tablet's own disk.
        raise DiskGone(sentence("the removable disk is not there"), where=str(disk))
    final, total = disk / package.name, package.stat().st_size
    try:
        wanted = sha256_of(package)
        if final.exists():
            if sha256_of(final) == wanted:
                return final
            raise PackageError.worded(_WORDS["taken"], str(final))
        done = 0
        with durable_file(final) as copy, package.open("rb") as source:
            while chunk := source.read(_CHUNK):
                copy.write(chunk)
                done += len(chunk)
                progress(done, total)
        with storage_errors(final):
            if sha256_of(final) != wanted:
                raise PackageError.worded(_WORDS["differs"], str(final))
    except (PackageError, OSError) as error:
        if disk not in removable_disks():
            raise DiskGone(sentence("the removable disk went away"), where=str(disk)) from error
        raise
    return final
