"""Writes a disclosed copy of a sealed package: some photos and notes left out, all else as it was.

Not a byte under the seal changes; what is left out stands in ``fetch.txt``. The drawings on a
withheld photo go with it, and the report always does, since it shows the photos themselves.
"""

import io
from collections.abc import Sequence
from contextlib import suppress
from fnmatch import fnmatchcase
from pathlib import Path

from PIL import Image

from evidence_app import limits
from evidence_app.errors import PackageError
from evidence_app.package import layout
from evidence_app.package.durable import new_file
from evidence_app.package.roles import in_roles
from evidence_app.package.verify.case import Asked, Case
from evidence_app.package.verify.check import verify
from evidence_app.package.withheld import NAMING, write_fetch
from evidence_app.package.zip.archive import open_archive, read_all
from evidence_app.package.zip.writing import ZipWriter, zip_time
from evidence_app.sentence import sentences_beside

_WORDS = sentences_beside(__file__)
_GPS = 0x8825  # the pointer to the location in Exif (CIPA DC-008 4.6.3)


def disclose(
    package: Path, out: Path, withhold: Sequence[str], with_location: bool, with_roles: bool = False
) -> None:
    """Write the copy of ``package`` to the new file ``out``; ``with_roles`` for people's names.

    ``withhold`` are paths in the package or patterns of them (``data/photos/*``). Raises
    PackageError when the package is not sound, when a pattern means no photo or note, and,
    unless ``with_location``, when a photo that stays says where it was taken; EvidenceError
    when ``out`` cannot be written.
    """
    result = verify(package, accept_practice=True, compare_pictures=False)
    if result.failed or result.withheld or result.facts is None:
        raise PackageError.worded(_WORDS["not-sound"], str(package), overall=result.overall)
    case = Case(open_archive(package), Asked())
    left = _left_out(case, withhold, {*NAMING} if with_roles else {layout.REPORT})
    journal = b"".join(in_roles(case.lines, case.events)) if with_roles else None
    for path in () if with_location else sorted(set(case.payload) - left.keys()):
        if path.startswith(layout.PHOTOS) and _is_located(case.read(path, limits.TEXT_BYTES)):
            raise PackageError.worded(_WORDS["located"], path)
    facts = result.facts
    with new_file(out) as file:
        top = layout.top_folder(facts.claim, facts.job)
        with ZipWriter(file, top, zip_time(facts.closed_at)) as writer:
            for path in case.archive.sizes:
                if path not in left:
                    writer.add_bytes(path, read_all(case.archive, path, limits.TEXT_BYTES))
            writer.add_bytes(layout.FETCH, write_fetch(left, case.manifest))
            if journal is not None:
                writer.add_bytes(layout.ROLE_JOURNAL, journal)


def _left_out(case: Case, withhold: Sequence[str], chosen: set[str]) -> dict[str, int]:
    """Path to bytes of what is left out: ``chosen``, what ``withhold`` means, drawings on that."""
    originals = [p for p in case.payload if p.startswith((layout.PHOTOS, layout.MARKUP, layout.VOICE))]
    for pattern in withhold:
        found = [path for path in originals if fnmatchcase(path, pattern)]
        if not found:
            such = next(iter(originals), layout.PHOTOS)
            raise PackageError.worded(_WORDS["no-original"], pattern, path=such)
        chosen.update(found)
    for event in case.events:
        drawing = event.body.get("markup") if event.kind == "measured" else None
        if drawing and case.find_original(event.body["photo"]) in chosen:
            chosen.add(case.path_of[drawing["sha256"]])
    return {path: case.archive.sizes[path] for path in chosen}


def _is_located(photo: bytes) -> bool:
    """Whether a photo carries a location, in Exif or in XMP; true where that cannot be read."""
    with suppress(Exception), Image.open(io.BytesIO(photo), formats=["JPEG"]) as picture:
        return bool(picture.getexif().get_ifd(_GPS)) or b"GPSL" in bytes(picture.info.get("xmp", b""))
    return True
