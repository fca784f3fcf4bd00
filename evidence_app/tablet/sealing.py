"""Sealing from the tablet: its key, where the package goes. Runs on the worker."""

from __future__ import annotations

from pathlib import Path

from evidence_app.locations import keys_folder
from evidence_app.package.keys import SigningKey, create_key, open_key

_MOUNTS = ("/media/", "/run/media/", "/Volumes/")


def device_key_path() -> Path:
    return keys_folder() / "device-key.pem"


def key_needs() -> str:
    """ "new-pin" before there is a key, "pin" when it has one, "none" when unencrypted."""
    path = device_key_path()
    if not path.exists():
        return "new-pin"
    return "pin" if b"ENCRYPTED" in path.read_bytes() else "none"


def open_device_key(pin: str | None) -> SigningKey:
    """The tablet's key; made with ``pin`` when there is none yet. Raises SigningKeyError."""
    path = device_key_path()
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        return create_key(path, pin)
    return open_key(path, pin)


def seal(job, key: SigningKey, folder: Path, progress):
    """Raises PackageError, StorageFull."""
    from evidence_app.package.seal import seal_job

    return seal_job(job.record, job.step_list, key, folder, progress)


def removable_disks(to_write: bool = True) -> list[Path]:
    """Disks that were plugged in, and unless ``to_write`` is False can be written to."""
    import os

    import psutil

    mounted = [Path(p.mountpoint) for p in psutil.disk_partitions(all=False)]
    return [p for p in mounted if f"{p}/".startswith(_MOUNTS)
            and (not to_write or os.access(p, os.W_OK))]
