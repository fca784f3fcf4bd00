"""Two photos side by side: the one shown now, the one shown before, and where they lie on
each other."""

from typing import Any

import cv2
import numpy as np

from evidence_app.desk.photos import reuse
from evidence_app.desk.photos.compare import compare, picture_of
from evidence_app.desk.photos.features import sized, small_picture
from evidence_app.desk.register import Register
from evidence_app.desk.search import MIRRORED, latest_path, show
from evidence_app.errors import EvidenceError

_SIDE_PX, _GAP_PX = 800, 16
_LINE = (0, 165, 255)


def pairs_of(
    register: Register, package: int, possible: bool = False
) -> list[tuple[dict[str, Any], bytes | None]]:
    """Every reused photo of a package (a row of ``search.Entry.reused``, with ``possible``
    those of possible copies too) and a JPEG of both photos; None where one of the packages is not there any more.

    On the left the earlier photo, on the right the one of this package; where they are the
    same picture, the frame on the left is what of it the right one shows.
    """
    entry = show(register, package, possible)
    with register.lookup() as database:
        numbers = {row["earlier_package"] for row in entry.reused} | {package}
        places = {number: latest_path(database, number) for number in numbers}
    found = []
    for row in entry.reused:
        mine = reuse.photo_bytes(places[package], row["path"], row["sha256"])
        theirs = reuse.photo_bytes(places[row["earlier_package"]], row["earlier_path"])
        try:
            picture = _side_by_side(theirs, mine, row["turned"]) if mine and theirs else None
        except EvidenceError:
            picture = None
        found.append((row, picture))
    return found


def _side_by_side(earlier: bytes, now: bytes, turned: str | None) -> bytes:
    left, right = (sized(small_picture(data, _SIDE_PX), _SIDE_PX) for data in (earlier, now))
    compared = compare(picture_of(right), picture_of(left), turned == MIRRORED)
    if compared.placement and (compared.same or compared.possible):
        corners = np.array([[right.shape[1::-1]]], float) * [[[0, 0]], [[1, 0]], [[1, 1]], [[0, 1]]]
        shares = corners.reshape(1, 4, 2) / max(right.shape)
        frame = cv2.perspectiveTransform(shares, np.array(compared.placement)) * max(left.shape)
        cv2.polylines(left, [np.round(frame).astype(np.int32)], True, _LINE, 3, cv2.LINE_AA)
    height = max(left.shape[0], right.shape[0])
    sheet = np.full((height, left.shape[1] + _GAP_PX + right.shape[1], 3), 255, np.uint8)
    sheet[: left.shape[0], : left.shape[1]] = left
    sheet[: right.shape[0], left.shape[1] + _GAP_PX :] = right
    return cv2.imencode(".jpg", sheet, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes()
