"""Packages taken in at the desk in bulk: read, checked and measured where the cluster has room, and
entered here, one after the other, by the one process that holds the register.

What comes out of an object storage is also copied beside the register, under a name made of its
address and ETag: people look at its photos for years, and so do comparisons with later ones.
"""

import hashlib
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

from msgspec import structs

from evidence_app.cluster.objects import Listed
from evidence_app.cluster.running import answers
from evidence_app.desk import intake
from evidence_app.desk.contents import Contents, read_contents
from evidence_app.desk.photos import reuse
from evidence_app.desk.photos.features import Features
from evidence_app.desk.register import Checked, Register
from evidence_app.errors import EvidenceError, PackageError
from evidence_app.package.durable import durable_file, storage_errors
from evidence_app.package.verify.beside import done_beside
from evidence_app.package.zip.archive import Elsewhere
from evidence_app.record.clock import SystemClock

_Came = tuple[Contents, Checked, dict[str, Features]]  # the features by their photo's SHA-256


def take_all(
    register: Register, desk: intake.Desk, packages: Sequence[Listed], again: bool,
    scheduler: str | None, workers: int | None, time_limit: float,
) -> Iterator[tuple[Listed, intake.Taken]]:  # fmt: skip
    """What became of each package: first of those that were received under the same address, ETag
    and size, unless they are to be checked ``again``, then of the others as they come. Raises
    RegisterError, StorageFull, and EvidenceError when the cluster cannot be used."""
    taking = intake.Intake(register, desk)
    before = {} if again else register.received_from(map(_origin, packages))
    left = []
    for package in packages:
        if known := before.get(package.address):
            yield package, taking.told_before(known, Path(package.address))
        else:
            left.append(package)
    examining = partial(_examined_beside, desk=desk, time_limit=time_limit)
    for package, came in answers(scheduler, workers, left, examining) if left else ():
        try:
            if isinstance(came, EvidenceError):
                taken = intake.not_received(package, came)
            else:
                contents = structs.replace(came[0], place=_kept(register, package, came[0]))
                hashed = reuse.hash_contents(contents, known=came[2])
                taken = taking.enter(intake.Examined(contents, came[1], hashed), again)
        except PackageError as error:
            taken = intake.not_received(package, error)
        yield package, structs.replace(taken, path=package)


def _origin(package: Listed) -> tuple[str, str, int]:
    return package.address, package.etag, package.size


def _examined_beside(package: Listed, desk: intake.Desk, time_limit: float) -> _Came | EvidenceError:
    """On a worker, in a process beside it, which a package can end without harm."""
    at = SystemClock().now().wall
    return done_beside(_examined, package.place, package, desk, at, time_limit=time_limit)


def _examined(place: Path | Elsewhere, package: Listed, desk: intake.Desk, at: str) -> _Came:
    """Without the pictures themselves: they have a hundred times the bytes of all else."""
    intake.refuse_foreign(place)
    contents = structs.replace(read_contents(place), origin=_origin(package))
    found = intake.examine(contents, desk, at)
    photos = zip(contents.photos, found.hashed.pictures, strict=True)
    return contents, found.checked, {photo.sha256: seen.features for photo, seen in photos if seen}


def _kept(register: Register, package: Listed, contents: Contents) -> Path:
    """Where the package is on this computer; one from a storage is copied unless the register has
    it at a place where it still is. What is there under its name can only be itself."""
    if isinstance(package.place, Path):
        return package.place
    if there := intake.place_of(register, contents):
        return there
    name = hashlib.sha256("\n".join(map(str, _origin(package))).encode("utf-8", "replace")).hexdigest()
    kept = register.path.parent / "received" / name[:16] / package.address.rpartition("/")[2]
    with storage_errors(kept):
        kept.parent.mkdir(parents=True, exist_ok=True)
    with durable_file(kept) as file:
        file.writelines(package.pieces())
    return kept
