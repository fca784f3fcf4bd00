"""Photos that were shown before, in another job.

Three looks: the same file (SHA-256); the features that a photo shares with earlier ones and few
others do, in the index; and the strict comparison of both pictures, as long as the earlier
package is still where it was received from. What merely looks alike is not told: honest photos
of one checkpoint do.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import asdict

from evidence_app import limits
from evidence_app.desk import register as reg
from evidence_app.desk.contents import Contents
from evidence_app.desk.photos import compare as pairwise
from evidence_app.desk.photos.features import Features, small_picture
from evidence_app.desk.photos.index import Near, PhotoIndex
from evidence_app.desk.search import AS_IT_IS, MIRRORED, latest_path, reuse_words
from evidence_app.errors import EvidenceError, PhotoError
from evidence_app.package.verify.digests import Progress
from evidence_app.package.zip.archive import open_archive, read_all

# The earliest few are enough to act on; a picture sent in a thousand times must not slow intake.
_SAME_FILES_TOLD = 8

# Of 240 features; honest photos of one checkpoint shared up to 82. Asked only where the
# pictures themselves cannot be compared.
_MOST_SHARED = 100


class Hashed(Struct, frozen=True):
    """A package's photos ready to be entered, and each ready to be compared; None for a photo
    with too little in it."""

    photos: tuple[reg.HashedPhoto, ...]
    pictures: tuple[pairwise.Picture | None, ...]


class EarlierPhoto(Struct, frozen=True):
    """A photo of the register and where its bytes can be had."""

    number: int
    package: int
    job: str | None
    claim: str | None
    sha256: str
    path: str
    package_path: str | None


def hash_contents(
    contents: Contents,
    progress: Progress | None = None,
    known: Mapping[str, Features] = MappingProxyType({}),
) -> Hashed:
    """Hash every photo of a package, of which the features may be ``known`` by the photo's SHA-256.
    A photo that is none gets no hash. Raises Unreadable."""
    if not contents.photos:
        return Hashed((), ())
    archive = open_archive(contents.place)
    photos, pictures = [], []
    for done, photo in enumerate(contents.photos):
        if progress:
            progress(done, len(contents.photos))
        found: pairwise.Picture | None = None
        count = 0
        with suppress(PhotoError, KeyError):
            data = read_all(archive, photo.path, limits.TEXT_BYTES)
            found = _picture(data, photo.path, known.get(photo.sha256))
            count = len(found.features.rows)
            found = found if found.features.usable else None
        rows = found.features.rows.tobytes() if found else None
        photos.append(reg.HashedPhoto(**asdict(photo), rows=rows, quality=count))
        pictures.append(found)
    return Hashed(tuple(photos), tuple(pictures))


def _picture(data: bytes, where: str, features: Features | None = None) -> pairwise.Picture:
    return pairwise.picture_of(small_picture(data, pairwise.LARGE_PX, where), features)


def find_reused(
    register: reg.Register, index: PhotoIndex, contents: Contents, hashed: Hashed, after: int = 0
) -> list[reg.Reuse]:
    """Where photos of a package stand in other jobs, among the photos after number ``after``.

    ``index`` must be up to date. A possible copy is among them, for who asks for it.
    """
    found: list[reg.Reuse] = []
    candidates = list(_candidates(register, index, hashed, after))
    earlier = _earlier(register, [number for _, _, number in candidates])
    for photo, near, number in candidates:
        other = earlier[number]
        if _same_job(contents, other):
            continue
        if near is None:
            found.append(_reuse(photo, other, reg.SAME_FILE, AS_IT_IS, 1.0))
        elif (mine := hashed.pictures[photo]) and (reuse := _looked_at(index, photo, mine, near, other)):
            found.append(reuse)
    return found


def _candidates(
    register: reg.Register, index: PhotoIndex, hashed: Hashed, after: int
) -> Iterator[tuple[int, Near | None, int]]:
    """(place of the photo, its votes or None for the same file, number of the earlier photo)."""
    same = _same_files(register, [photo.sha256 for photo in hashed.photos], after)
    for place, (photo, picture) in enumerate(zip(hashed.photos, hashed.pictures, strict=True)):
        numbers = same.get(photo.sha256, [])
        for number in numbers:
            yield place, None, number
        if picture is not None:
            for near in index.near(picture.features, after):
                if near.photo not in numbers:
                    yield place, near, near.photo


def _looked_at(
    index: PhotoIndex, photo: int, mine: pairwise.Picture, near: Near, other: EarlierPhoto
) -> reg.Reuse | None:
    rows = index.places([other.number])[other.number]
    shared = pairwise.features_shared(mine.features, rows, near.mirrored)
    if shared < pairwise.LEAST_SHARED:
        return None
    data = photo_bytes(other.package_path, other.path, other.sha256)
    turned = MIRRORED if near.mirrored else AS_IT_IS
    theirs = None
    with suppress(PhotoError):
        theirs = _picture(data, other.path, Features(rows, rows)) if data is not None else None
    if theirs is None:
        if shared < _MOST_SHARED:
            return None
        return _reuse(photo, other, reg.NOT_COMPARED, turned, None)
    seen = pairwise.compare(mine, theirs, near.mirrored)
    if not (seen.same or seen.possible):
        return None
    return _reuse(photo, other, reg.SAME_PICTURE if seen.same else reg.POSSIBLE, turned, seen.agreement)


def _reuse(
    photo: int, other: EarlierPhoto, verdict: str, turned: str, agreement: float | None
) -> reg.Reuse:
    said = reuse_words(verdict, turned, agreement, other.package, other.claim, other.path)
    return reg.Reuse(photo, other.number, verdict, turned, agreement, said)


def _same_job(contents: Contents, other: EarlierPhoto) -> bool:
    """Two photos of one job may well be alike; and a conflict of packages is shown elsewhere."""
    identity = contents.summary.identity if contents.summary else None
    job = contents.seal.job if contents.seal else identity and identity.job
    return job is not None and job == other.job


def _same_files(register: reg.Register, digests: Sequence[str], after: int) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    with register.lookup() as database:
        for sha256 in set(digests):
            rows = database.conn.execute(
                "SELECT id FROM photos WHERE sha256 = ? AND id > ? ORDER BY id LIMIT ?",
                [sha256, after, _SAME_FILES_TOLD],
            )
            found[sha256] = [row[0] for row in rows]
    return found


def _earlier(register: reg.Register, numbers: Sequence[int]) -> dict[int, EarlierPhoto]:
    query = (
        "SELECT f.id, f.package, p.job, p.claim, f.sha256, f.path FROM photos f "
        "JOIN packages p ON p.id = f.package WHERE f.id = ?"
    )
    with register.lookup() as database:
        return {
            number: EarlierPhoto(*(*row, latest_path(database, row[1])))
            for number in dict.fromkeys(numbers)
            for row in [database.conn.execute(query, [number]).fetchone()]
        }


def photo_bytes(package_path: str | None, path: str, sha256: str | None = None) -> bytes | None:
    """A photo's bytes out of a package; None when they cannot be had, or are others by now."""
    if package_path is None:
        return None
    try:
        data = read_all(open_archive(Path(package_path)), path, limits.TEXT_BYTES)
    except (EvidenceError, KeyError):
        return None
    if sha256 is not None and hashlib.sha256(data).hexdigest() != sha256:
        return None
    return data
