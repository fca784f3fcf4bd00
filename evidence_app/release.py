"""Which version of the app this is, and which commit it was made from."""

import subprocess
from functools import cache
from pathlib import Path

from evidence_app import __version__

_PACKAGE = Path(__file__).resolve().parent


@cache
def release() -> str:
    """``0.1.0+0123456789ab``: version and commit, with ``.changed`` after it where the files
    differ from that commit, in the form of PEP 440. The version alone where nothing says
    from which commit the app was made."""
    commit = _built_from() or _checked_out()
    return f"{__version__}+{commit}" if commit else __version__


def _built_from() -> str:
    told = _PACKAGE / "commit.txt"
    return told.read_text("ascii").strip() if told.is_file() else ""


def _checked_out() -> str:
    if not (_PACKAGE.parent / ".git").exists():
        return ""
    commit = _git("rev-parse", "--short=12", "HEAD")
    return (
        f"{commit}.changed" if commit and _git("status", "--porcelain", "--untracked-files=no") else commit
    )


def _git(*asked: str) -> str:
    """What git says of the checkout; nothing where there is no git or it refuses to say."""
    command = ["git", "--no-optional-locks", "-C", str(_PACKAGE.parent), *asked]
    try:
        done = subprocess.run(command, capture_output=True, text=True)
    except OSError:
        return ""
    return done.stdout.strip() if done.returncode == 0 else ""
