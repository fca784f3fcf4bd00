"""Photos that were shown before, in another job.

Three looks, each at what the one before let through: the same file (SHA-256),
a near hash (PDQ, in the index), and the strict comparison of both pictures. The
hash alone cannot tell two honest photos of one checkpoint apart; the third look
can, as long as the earlier package is still where it was received from.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from msgspec import Struct

from evidence_app.desk.contents import Contents
from evidence_app.desk.photos.compare import Prepared, compare, prepare
from evidence_app.desk.photos.hash import SAME, TURNS, PhotoHash, hash_photo
from evidence_app.desk.photos.index import Near, PhotoIndex
from evidence_app.desk.register import HashedPhoto, Register, Reuse
from evidence_app.desk.search import latest_path
from evidence_app.errors import EvidenceError, PhotoError
from evidence_app.package import layout
from evidence_app.package.verify.digests import Progress
from evidence_app.package.zip.archive import open_archive, read_all

# Wider than the hash's own 31, for copies that lost an edge; the strict comparison decides.
WITHIN = 60
# Middles of copies that were cut or slightly turned: tests/bench/reuse.py measures them.
MIDDLE_WITHIN = 64
CUT = "cut or slightly turned"
_LOOKED_AT = 4  # of whole photos, and as many of middles
# The earliest few are enough to act on; a picture sent in a thousand times must not slow intake.
_SAME_FILES_TOLD = 8

SAME_FILE, SAME_PICTURE = "same-file", "same-picture"
LOOK_ALIKE, NOT_COMPARED = "look-alike", "not-compared"


class Hashed(Struct, frozen=True):
    """A package's photos ready to be entered, and the hashes to look for; None for a photo
    with too little in it."""

    photos: tuple[HashedPhoto, ...]
    hashes: tuple[PhotoHash | None, ...]


class EarlierPhoto(Struct, frozen=True):
    """A photo of the register and where its bytes can be had."""

    number: int
    package: int
    job: str | None
    claim: str | None
    sha256: str
    path: str
    package_path: str | None


def hash_contents(contents: Contents, progress: Progress | None = None) -> Hashed:
    """Hash every photo of a package. A photo that is none gets no hash. Raises Unreadable."""
    if not contents.photos:
        return Hashed((), ())
    archive = open_archive(contents.path)
    photos, hashes = [], []
    for done, photo in enumerate(contents.photos):
        if progress:
            progress(done, len(contents.photos))
        found, quality = None, 0
        with suppress(PhotoError, KeyError):
            found = hash_photo(read_all(archive, photo.path, layout.MAX_TEXT_BYTES), photo.path)
            quality = found.quality
            found = found if found.usable else None
        photos.append(
            HashedPhoto(
                photo.sha256,
                photo.path,
                photo.sequence,
                photo.step,
                photo.wanted,
                photo.purpose,
                found and found.bits,
                quality,
                found and found.middle,
            )
        )
        hashes.append(found)
    return Hashed(tuple(photos), tuple(hashes))


def find_reused(
    register: Register, index: PhotoIndex, contents: Contents, hashed: Hashed, after: int = 0
) -> list[Reuse]:
    """Where photos of a package stand in other jobs, among the photos after number ``after``.

    ``index`` must be up to date. A look-alike is only told when its hash is as near as
    the hash's authors take for the same picture.
    """
    candidates = list(_candidates(register, index, hashed, after))
    earlier = _earlier(register, [each for _, _, each in candidates])
    mine: dict[int, Prepared | None] = {}
    found: list[Reuse] = []
    looked: Counter[tuple[int, bool]] = Counter()
    for photo, near, number in candidates:
        other = earlier[number]
        if _same_job(contents, other):
            continue
        if near is None:
            found.append(
                Reuse(
                    photo,
                    number,
                    SAME_FILE,
                    0,
                    TURNS[0],
                    1.0,
                    f"the very same file as in {_named(other)}",
                )
            )
            looked[photo, False] += 1
            continue
        if looked[photo, near.middle] >= _LOOKED_AT:
            continue
        looked[photo, near.middle] += 1
        if photo not in mine:
            mine[photo] = _prepared(str(contents.path), hashed.photos[photo].path)
        reuse = _looked_at(photo, mine[photo], near, other)
        if reuse is not None:
            found.append(reuse)
    return found


def _candidates(
    register: Register, index: PhotoIndex, hashed: Hashed, after: int
) -> Iterator[tuple[int, Near | None, int]]:
    """(place of the photo, how near or None for the same file, number of the earlier photo)."""
    same = _same_files(register, [photo.sha256 for photo in hashed.photos], after)
    for place, (photo, found) in enumerate(zip(hashed.photos, hashed.hashes, strict=True)):
        numbers = same.get(photo.sha256, [])
        for number in numbers:
            yield place, None, number
        if found is not None:
            for near in index.near(found.turned, found.asked, WITHIN, MIDDLE_WITHIN, after):
                if near.photo not in numbers:
                    yield place, near, near.photo


def _looked_at(photo: int, mine: Prepared | None, near: Near, other: EarlierPhoto) -> Reuse | None:
    theirs = _prepared(other.package_path, other.path, other.sha256)
    turned = CUT if near.middle else TURNS[near.turn]
    how = f"{near.distance} of 256 bits{' of its middle' if near.middle else ''} differ, {turned}"
    # Middles are asked for in so many ways that alone they say nothing.
    alone = near.distance <= SAME and not near.middle
    if mine is None or theirs is None:
        if not alone:
            return None
        sentence = (
            f"looks like one in {_named(other)} ({how}); that package is not there any "
            "more, so the pictures were not laid over each other"
        )
        return Reuse(photo, other.number, NOT_COMPARED, near.distance, turned, None, sentence)
    seen = compare(mine, theirs, mirrored=near.turn >= 4)
    if seen.same:
        verdict = SAME_PICTURE
        sentence = (
            f"the same picture as in {_named(other)}: {how}; laid over each other, "
            f"{seen.agreement:.0%} of the overlap agrees to the finest structure"
        )
    elif alone:
        verdict = LOOK_ALIKE
        sentence = (
            f"looks like one in {_named(other)} ({how}) but is another picture as far as "
            f"can be told: laid over each other, {_share(seen.agreement)} of the overlap agrees "
            "to the finest structure"
        )
    else:
        return None
    return Reuse(photo, other.number, verdict, near.distance, turned, seen.agreement, sentence)


def _share(agreement: float) -> str:
    return "none" if agreement < 0.005 else f"only {agreement:.0%}"


def _same_job(contents: Contents, other: EarlierPhoto) -> bool:
    """Two photos of one job may well be alike; and a conflict of packages is shown elsewhere."""
    identity = contents.summary.identity if contents.summary else None
    job = contents.seal.job if contents.seal else identity and identity.job
    return job is not None and job == other.job


def _named(other: EarlierPhoto) -> str:
    return f"package {other.package}, claim {other.claim or 'not known'} ({other.path})"


def _same_files(register: Register, digests: Sequence[str], after: int) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    with register.lookup() as database:
        for sha256 in set(digests):
            rows = database.conn.execute(
                "SELECT id FROM photos WHERE sha256 = ? AND id > ? ORDER BY id LIMIT ?",
                [sha256, after, _SAME_FILES_TOLD],
            )
            found[sha256] = [row[0] for row in rows]
    return found


def _earlier(register: Register, numbers: Sequence[int]) -> dict[int, EarlierPhoto]:
    query = (
        "SELECT f.id, f.package, p.job, p.claim, f.sha256, f.path FROM photos f "
        "JOIN packages p ON p.id = f.package WHERE f.id = ?"
    )
    with register.lookup() as database:
        return {
            number: EarlierPhoto(*row, latest_path(database, row[1]))
            for number in dict.fromkeys(numbers)
            for row in [database.conn.execute(query, [number]).fetchone()]
        }


def photo_bytes(package_path: str | None, path: str, sha256: str | None = None) -> bytes | None:
    """A photo's bytes out of a package; None when they cannot be had, or are others by now."""
    if package_path is None:
        return None
    try:
        data = read_all(open_archive(Path(package_path)), path, layout.MAX_TEXT_BYTES)
    except (EvidenceError, KeyError):
        return None
    if sha256 is not None and hashlib.sha256(data).hexdigest() != sha256:
        return None
    return data


def _prepared(package_path: str | None, path: str, sha256: str | None = None) -> Prepared | None:
    data = photo_bytes(package_path, path, sha256)
    with suppress(PhotoError):
        return prepare(data, path) if data is not None else None
    return None
