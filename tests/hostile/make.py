"""Makes every hostile package from a sound one.

Each has one defect and is named for what it tries. The packages know nothing of
the checker, so any other checker can be held against them too:

    python -m tests.hostile.make FOLDER

:func:`sound_package` makes the sound one, sealed under the key that most attacks
use as well, and its depot's key list, which the attacks on ``key`` and
``time-bracket`` need to be seen.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from evidence_app.package.keys.keylist import DeviceKey, write_key_list
from evidence_app.package.keys.signing_key import SigningKey
from tests.hostile import (
    on_disclosed,
    on_files,
    on_handover,
    on_job,
    on_journal,
    on_measuring,
    on_media,
    on_people,
    on_photos,
    on_report,
    on_roles,
    on_seal,
    on_zip,
)
from tests.hostile.bag import INSIDER, key_name
from tests.hostile.registry import ATTACKS, Attack
from tests.making import DEPOT, TECHNICIAN, make_key, make_package

__all__ = ["ATTACKS", "Hostile", "build", "build_all", "sound_package"]

ROOMS = (
    on_disclosed,
    on_files,
    on_handover,
    on_seal,
    on_journal,
    on_job,
    on_measuring,
    on_media,
    on_people,
    on_photos,
    on_report,
    on_roles,
    on_zip,
)


class Hostile(NamedTuple):
    """``overall`` is ``fails``, or ``unreadable`` when there is nothing to judge and
    ``check`` is None; otherwise ``check`` names a check that must fail."""

    path: Path
    overall: str
    check: str | None


def build_all(base_package: Path, out_folder: Path) -> dict[str, Hostile]:
    """Build every hostile package in ``out_folder``, by the attack's name."""
    out_folder.mkdir(parents=True, exist_ok=True)
    return {name: build(attack, base_package, out_folder) for name, attack in ATTACKS.items()}


def build(attack: Attack, base_package: Path, out_folder: Path) -> Hostile:
    path = out_folder / f"{attack.name}.zip"
    attack(base_package, path)
    return Hostile(path, attack.overall, attack.check)


def sound_package(folder: Path) -> tuple[Path, Path]:
    """A sound package of a completed job with a ticket, and its depot's key list."""
    depot = make_key(9)
    package = make_package(folder, key=SigningKey(INSIDER), depot_key=depot)
    start, end = (datetime(year, 1, 1, tzinfo=UTC) for year in (2026, 2027))
    keys = [DeviceKey(package.seal.device_key_sha256, TECHNICIAN, "tablet 3", start, end)]
    for gone, month in ((on_handover.WITHDRAWN, 2), (on_handover.LOST, 4)):
        since = datetime(2026, month, 1, tzinfo=UTC)
        keys.append(DeviceKey(key_name(gone), TECHNICIAN, f"tablet {month}", start, end, since, "lost"))
    key_list = folder / "keys" / "key-list.toml"
    key_list.parent.mkdir()
    write_key_list(key_list, DEPOT, start, keys, depot)
    return package.path, key_list


def main(argv: list[str]) -> int:
    if len(argv) != 1:
        print("usage: python -m tests.hostile.make FOLDER", file=sys.stderr)
        return 2
    folder = Path(argv[0])
    package, key_list = sound_package(folder)
    print(f"{package}\n{key_list}")
    for name, made in build_all(package, folder / "hostile").items():
        print(f"{name:<45} {made.overall:<11} {made.check or ''}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
