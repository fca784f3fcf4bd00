"""What else the work needs: screen, printer, clock, disk, keys."""

import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from evidence_app import locations
from evidence_app.errors import EvidenceError, RecordError, turned
from evidence_app.machine.part import Looked, tried
from evidence_app.sentence import sentence, sentences_beside, verbatim
from evidence_app.system_calls import sync_file

_TRIAL_BYTES = 8 * 2**20
_ENOUGH_BYTES = 2_000_000_000  # some 300 photos; the tablet warns below it as well
_SLOW_MB_S = 4.0  # a photo of 4 MB would take more than a second to be safe
_ASK_S = 20
_WORDS = sentences_beside(__file__)


@tried(sentence("Screen"))
def screen() -> Looked:
    """Is there a screen, and the library that draws on it?"""
    if importlib.util.find_spec("kivy") is None:
        raise EvidenceError.worded(_WORDS["no-library"])
    shown = os.environ.get("WAYLAND_DISPLAY") or os.environ.get("DISPLAY")
    if sys.platform.startswith("linux") and not shown:
        raise EvidenceError.worded(_WORDS["no-screen"])
    return "works", sentence("{name} can be drawn on.", name=shown or sys.platform)


@tried(sentence("Printer"), "limited")
def printer() -> Looked:
    """Printers that the system's print service (CUPS) knows."""
    program = shutil.which("lpstat")
    names = _asked([program, "-e"]).split() if program else []
    if not names:
        raise EvidenceError.worded(_WORDS["no-printer"])
    return "works", verbatim(", ".join(names))


@tried(sentence("Clock"), "limited")
def clock() -> Looked:
    """Is the wall clock kept by a time server or receiver?"""
    now = datetime.now(UTC).astimezone()
    shown = now.isoformat(timespec="seconds")
    program = shutil.which("timedatectl")
    kept = _asked([program, "show", "--value", "-p", "NTPSynchronized"]) if program else ""
    if kept.strip() == "yes":
        return "works", sentence("{now}, kept by a time server.", now=shown)
    return (
        "limited",
        sentence("{now}; nothing keeps it right.", now=shown),
        sentence(
            "Compare it with a clock you trust before each job. Holds do not depend on it, and a depot "
            "ticket proves that the job did not start earlier."
        ),
    )


@tried(sentence("Disk"))
def disk() -> Looked:
    """Room, and how fast a file of 8 MB is forced to the disk."""
    folder = locations.home()
    speed = _TRIAL_BYTES / 1e6 / _seconds_to_write(folder)
    free = shutil.disk_usage(folder).free
    if free < _ENOUGH_BYTES:
        raise RecordError.worded(_WORDS["no-room"], free=free // 10**6, folder=folder)
    told = sentence(
        "{free} GB free in {folder}; {speed} MB a second are made safe.",
        free=free // 10**9,
        folder=folder,
        speed=f"{speed:.0f}",
    )
    if speed < _SLOW_MB_S:
        return "limited", told, sentence("Photos take long to be safe; use another disk.")
    return "works", told


def _seconds_to_write(folder: Path) -> float:
    content = os.urandom(_TRIAL_BYTES)
    what = sentence("nothing can be written into {folder} ({reason})", folder=folder)
    remedy = sentence("check who owns the folder, or choose another one")
    with turned(OSError, RecordError, what, remedy=remedy):
        folder.mkdir(parents=True, exist_ok=True)
        begun = time.monotonic()
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(content)
            file.flush()
            sync_file(file.fileno())
    return max(time.monotonic() - begun, 1e-6)


@tried(sentence("Keys"), "limited")
def keys(key: Path, key_list: Path | None) -> Looked:
    """Is there a key, and does the depot's list, where one is chosen, hold it now?"""
    from evidence_app.package.keys.handover import chain_to
    from evidence_app.package.keys.keylist import Status, open_key_list
    from evidence_app.package.keys.signing_key import key_sha256, read_public_key

    public = key.with_suffix(".public.pem")
    if not key.exists():
        told = sentence("This tablet's key is not made yet.")
        remedy = sentence("It is made at the first sealing; give its public half to the depot then.")
    elif key_list is None:
        told = sentence("The key is there. No key list is chosen.")
        remedy = sentence("Choose the depot's key list in the settings.")
    elif not public.exists():
        depot = open_key_list(key_list).depot
        return "works", sentence("The key and {depot}'s list are there.", depot=depot)
    else:
        opened = open_key_list(key_list)
        digest = key_sha256(read_public_key(public.read_bytes(), str(public)))
        if opened.stand(chain_to(digest, key.parent), digest, datetime.now(UTC)).status is Status.VALID:
            valid = sentence("The key is in {depot}'s list and valid.", depot=opened.depot)
            return "works", valid
        told = sentence("The key is not valid by {depot}'s list now.", depot=opened.depot)
        remedy = sentence("Ask the depot to enter this tablet's public key.")
    return "limited", told, remedy


def _asked(command: list[str]) -> str:
    """What a program of the system says; nothing where it cannot say it."""
    try:
        return subprocess.run(command, capture_output=True, text=True, timeout=_ASK_S).stdout
    except (OSError, subprocess.TimeoutExpired):
        return ""
