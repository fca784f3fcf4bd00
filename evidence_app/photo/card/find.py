"""The four markers of the scale card in a photo, or why they are not there.

Markers are looked for on a copy of about 1200 pixels; what is found here is only
good to a pixel or two of that copy and is refined by card_pose.
"""

import cv2
import numpy as np

from evidence_app.photo.card.layout import CardLayout, card_layout
from evidence_app.photo.refusal import CannotMeasure

_COPY_SIDE = 1200
_GLANCE_SIDE = 800
# Takes the grain away in which thousands of outlines would be followed; a card of a fifth
# of the picture's width is still read.
_GLANCE_BLUR = 0.8
_WINDOWS, _GLANCE_WINDOWS = (13, 53, 20), (11, 41, 15)  # least, most, step, in pixels
_OTHER_DICTIONARIES = (
    "DICT_5X5_50",
    "DICT_6X6_50",
    "DICT_7X7_50",
    "DICT_APRILTAG_36h11",
    "DICT_ARUCO_ORIGINAL",
)
_BLACK = 12  # a photo whose brightest percent is below this grey level shows nothing


def find_markers(luma: np.ndarray) -> np.ndarray:
    """Outer corners (4, 4, 2) of the card's markers in pixels of ``luma``.

    ``luma`` is (H, W) uint8. Markers in the order of the layout, corners top left, top
    right, bottom right, bottom left as printed. Raises CannotMeasure unless exactly one
    whole card is seen.
    """
    layout = card_layout()
    copy, scale = _copy(luma)
    if np.percentile(copy, 99) < _BLACK:
        raise CannotMeasure("card", "black")
    corners, ids = _detect(copy, layout.markers.dictionary)
    known = [marker.id for marker in layout.markers.at]
    found = [(int(number), quad) for number, quad in zip(ids, corners, strict=True) if int(number) in known]
    counts = {number: sum(1 for other, _ in found if other == number) for number in known}
    if max(counts.values()) > 1:
        raise CannotMeasure("card", "two cards")
    if len(found) < 4:
        raise _missing(copy, layout, [number for number, _ in found], len(ids))
    by_id = dict(found)
    return (np.array([by_id[number] for number in known]) + 0.5) * scale - 0.5


def glance(luma: np.ndarray) -> dict[int, list[np.ndarray]]:
    """The quads (4, 2) of every marker of the card, by number, in pixels of ``luma``.

    Much cheaper than find_markers and good enough to say what is in the picture: markers
    are sought on a copy of 800 pixels, and nothing is said of why one is missing.
    """
    copy, scale = _copy(luma, _GLANCE_SIDE)
    copy = cv2.GaussianBlur(copy, (0, 0), _GLANCE_BLUR)
    markers = card_layout().markers
    known = {marker.id for marker in markers.at}
    seen: dict[int, list[np.ndarray]] = {}
    for quad, number in zip(*_detect(copy, markers.dictionary, _GLANCE_WINDOWS), strict=True):
        if number in known:
            seen.setdefault(number, []).append((quad + 0.5) * scale - 0.5)
    return seen


def _copy(luma: np.ndarray, side: int = _COPY_SIDE) -> tuple[np.ndarray, np.ndarray]:
    """A copy of about ``side`` pixels and the photo's pixels (x, y) for each of its own."""
    height, width = luma.shape
    scale = max(1.0, max(height, width) / side)
    size = (round(width / scale), round(height / scale))
    copy = cv2.resize(luma, size, interpolation=cv2.INTER_AREA) if scale > 1 else luma
    return copy, np.array([width / copy.shape[1], height / copy.shape[0]])


def _detect(
    copy: np.ndarray, dictionary: str, windows: tuple[int, int, int] = _WINDOWS
) -> tuple[list[np.ndarray], list[int]]:
    """Quads (4, 2) and numbers of the markers of a dictionary."""
    options = cv2.aruco.DetectorParameters()
    options.adaptiveThreshWinSizeMin = windows[0]
    options.adaptiveThreshWinSizeMax = windows[1]
    options.adaptiveThreshWinSizeStep = windows[2]
    options.minMarkerPerimeterRate = 0.06
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    corners, ids, _ = cv2.aruco.ArucoDetector(known, options).detectMarkers(copy)
    if ids is None:
        return [], []
    return [quad.reshape(4, 2).astype(float) for quad in corners], [int(number) for number in ids.ravel()]


def _missing(copy: np.ndarray, layout: CardLayout, found: list[int], others: int) -> CannotMeasure:
    """The most telling reason why there are not four markers."""
    known = {marker.id for marker in layout.markers.at}
    if len(known & set(_detect(cv2.flip(copy, 1), layout.markers.dictionary)[1])) > len(found):
        return CannotMeasure("card", "mirrored")
    if found:
        return CannotMeasure("card", "card cut off", count=len(found))
    if others or any(_detect(copy, other)[1] for other in _OTHER_DICTIONARIES):
        return CannotMeasure("card", "other card")
    return CannotMeasure("card", "no card")
