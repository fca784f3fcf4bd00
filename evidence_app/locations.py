"""Where the app finds its own files and keeps the user's.

Assets and samples stand beside the package in a checkout and inside it when
installed as a wheel; both are tried. The user's folders follow the platform's
custom and can be moved with ``EVIDENCE_APP_HOME``.
"""

import itertools
import os
import time
from pathlib import Path

import platformdirs

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence

_PACKAGE = Path(__file__).resolve().parent


def asset(name: str) -> Path:
    """Path of a shipped asset. Raises EvidenceError when it is not installed."""
    return _shipped("assets", name)


def sample(name: str) -> Path:
    """Path of a file in sample_sessions. Raises EvidenceError when missing."""
    return _shipped("sample_sessions", name)


def home() -> Path:
    """The folder that holds jobs, keys and settings of this user."""
    chosen = os.environ.get("EVIDENCE_APP_HOME")
    if chosen:
        return Path(chosen)
    return Path(platformdirs.user_data_dir("evidence-app", appauthor=False))


def jobs_folder() -> Path:
    return home() / "jobs"


def new_job_folder(claim: str, serial: str) -> Path:
    """Where a new job is kept: one folder below the jobs folder, whatever the
    claim and serial number hold (a slash stands in many a claim number)."""
    name = "-".join(
        "".join(sign if sign.isalnum() else "-" for sign in part).strip("-")[:60] or "none"
        for part in (claim, serial)
    )
    folder = jobs_folder() / f"{name}-{time.strftime('%Y%m%d-%H%M%S')}"
    # A second job of the unit in one second, or after the clock was set back.
    others = (folder.with_name(f"{folder.name}-{n}") for n in itertools.count(2))
    return next(free for free in itertools.chain([folder], others) if not os.path.lexists(free))


def device_key_path() -> Path:
    return home() / "keys" / "device-key.pem"


def _shipped(folder: str, name: str) -> Path:
    for root in (_PACKAGE, _PACKAGE.parent):
        path = root / folder / name
        if path.exists():
            return path
    raise EvidenceError(
        sentence("the file {folder}/{name} that ships with the app is missing", folder=folder, name=name),
        remedy=sentence("install the app again from a complete checkout"),
    )


def lock_file() -> Path:
    """The list of the libraries with their checksums."""
    return _shipped(".", "requirements.lock")


def checkout() -> Path:
    """The checkout that the app runs from. Raises EvidenceError when it was installed."""
    root = _PACKAGE.parent
    if (root / "pyproject.toml").is_file():
        return root
    raise EvidenceError(
        sentence("this app was installed and does not run from a checkout"),
        remedy=sentence("name the wheel that it was installed from"),
    )
