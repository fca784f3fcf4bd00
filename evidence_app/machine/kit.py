"""The depot's kit: one folder from which a tablet without network is set up.

``SHA256SUMS`` names every file, ``SHA256SUMS.sig`` is the depot's Ed25519 signature over its
bytes; the kit's own ``install`` checks both with openssl and sha256sum before it runs
anything of it.
"""

import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from evidence_app import locations
from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.package.keys.keylist import DEPOT_KEY_NAME, open_key_list, signature_path
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.reading import sha256_of
from evidence_app.release import release
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.load import load
from evidence_app.steplist.pictures import pictures_in

_WORDS = sentences_beside(__file__)

SUMS = "SHA256SUMS"
_LOOSE = ("checker.html", "package-format.md", "measuring.md")


def make_kit(
    out: Path,
    depot_key: SigningKey,
    wheel: Path | None,
    step_lists: Sequence[Path],
    key_list: Path | None,
    tell: Callable[[str], None] = lambda _: None,
) -> None:
    """Write the kit into ``out``, which must not exist yet.

    ``wheel`` is the app's; None makes one from the checkout that this app runs from. The
    libraries are fetched over the network, by the checksums of the lock file. Step lists and
    key list are checked first. Raises EvidenceError, StepListError and SigningKeyError.
    """
    if out.exists():
        raise EvidenceError.worded(_WORDS["exists"], str(out))
    for path in step_lists:
        load(path, pictures=True)
    if key_list is not None:
        open_key_list(key_list)
    app, lock = wheel or locations.checkout(), locations.lock_file()
    wheels = out / "wheels"
    wheels.mkdir(parents=True)
    # The whole path: a bare name would be fetched as a project of that name.
    _wheels(wheels, "--no-deps", str(app.resolve()))
    tell(say("{count} wheel of the app", count=len(list(wheels.iterdir()))))
    _wheels(wheels, "--require-hashes", "-r", str(lock))
    tell(say("{count} wheels with the libraries", count=len(list(wheels.iterdir()))))
    shutil.copytree(locations.asset("kit"), out, dirs_exist_ok=True)
    for name in _LOOSE:
        shutil.copy(locations.asset(name), out)
    for folder, paths in (("step-lists", step_lists), ("keys", _with_signature(key_list))):
        (out / folder).mkdir()
        for path in paths:
            shutil.copy(path, out / folder)
    for path in step_lists:
        for picture, _ in pictures_in(path.parent, load(path)):
            copy = out / "step-lists" / picture.file
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(path.parent / picture.file, copy)
    for path in step_lists:  # two lists may name two pictures alike
        load(out / "step-lists" / path.name, pictures=True)
    sign(out, depot_key)


def sign(out: Path, depot_key: SigningKey) -> None:
    """Name version, Python and checksums of a kit whose files are all there, and sign them."""
    (out / DEPOT_KEY_NAME).write_bytes(depot_key.public_pem)
    python = f"{sys.version_info.major}.{sys.version_info.minor}"
    (out / "VERSION").write_text(f"{release()}\n{python}\n", "ascii")
    sums = "".join(f"{sha256_of(path)}  {path.relative_to(out).as_posix()}\n" for path in _files(out))
    (out / SUMS).write_text(sums, "utf-8")
    (out / f"{SUMS}.sig").write_bytes(depot_key.sign(sums.encode()))


def _wheels(folder: Path, *what: str) -> None:
    command = [sys.executable, "-m", "pip", "wheel", "-q", "--wheel-dir", str(folder), *what]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        last = (done.stderr.strip().splitlines() or [""])[-1]
        raise EvidenceError.worded(_WORDS["not-fetched"], why=last)


def _with_signature(key_list: Path | None) -> tuple[Path, ...]:
    if key_list is None:
        return ()
    return key_list, signature_path(key_list), key_list.with_name(DEPOT_KEY_NAME)


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())
