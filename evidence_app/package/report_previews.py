"""The pictures and sounds that a report carries inside itself.

A preview is made anew from an original and is for looking only; the original
stands in the package. The same original gives the same preview with the same
version of the picture library, which the report names. What cannot be shown is
said in a sentence, never left out.
"""

from __future__ import annotations

import base64
import io
import struct
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import islice

from msgspec import Struct
from PIL import Image, features

from evidence_app.errors import PhotoError
from evidence_app.photo.intake import read_header

Load = Callable[[str], bytes]
Progress = Callable[[int, int], None]

LARGE = 1280
SMALL = 512
QUALITY = 80

MAX_SOUND_BYTES = 8_000_000
# A page of this size still opens on a phone; a journal made to burst it does not get further.
MAX_EMBEDDED_BYTES = 64_000_000
# Pillow's own bound, above which it warns; kept here so that it never has to.
MAX_PREVIEW_PIXELS = 89_000_000

_NOT_THERE = "The original is not in the package under its checksum."
_NO_PICTURE = "No preview: the file is not a picture that can be decoded."
_TOO_LARGE = "No preview: the picture has more pixels than a preview is made from."
_PAGE_FULL = "Not shown here, to keep this page small enough to open."
_LONG_SOUND = "Too long to be played from this page."

# Loaded at a time, so that memory holds a few originals and never all of them.
_TOGETHER = 8
_THREADS = 2


class Wanted(Struct, frozen=True):
    """A picture to preview: ``longest`` is its long side in pixels."""

    sha256: str
    longest: int
    kind: str  # "photo" (JPEG) or "markup" (PNG)


class Shown(Struct, frozen=True):
    """A data URI with its pixel size, or the sentence why there is none."""

    uri: str | None
    problem: str | None = None
    width: int = 0
    height: int = 0


def encoder() -> str:
    """The picture library that previews depend on."""
    return f"Pillow {features.version('pil')}, libjpeg-turbo {features.version('libjpeg_turbo')}"


class Embedded:
    """Previews and sounds within one budget; asking in the same order gives the same."""

    def __init__(self, load: Load) -> None:
        self._load = load
        self._left = MAX_EMBEDDED_BYTES

    def pictures(self, wanted: Iterable[Wanted], progress: Progress | None) -> dict[str, Shown]:
        """Previews by SHA-256. Each original is shown once, at the size first wanted."""
        first: dict[str, Wanted] = {}
        for want in wanted:
            first.setdefault(want.sha256, want)
        distinct = list(first.values())
        shown: dict[str, Shown] = {}
        with ThreadPoolExecutor(_THREADS) as pool:
            for batch in _batches(distinct):
                if self._left <= 0:
                    made: Iterator = (_said(_PAGE_FULL) for _ in batch)
                else:
                    made = pool.map(preview, [self._bytes(want.sha256) for want in batch], batch)
                for want, picture in zip(batch, made, strict=True):
                    shown[want.sha256] = self._within_budget(picture)
                if progress:
                    progress(len(shown), len(distinct))
        return shown

    def sound(self, sha256: str) -> Shown:
        """A FLAC recording as a data URI."""
        data = self._bytes(sha256)
        if data is None:
            return _said(_NOT_THERE)
        if len(data) > MAX_SOUND_BYTES:
            return _said(_LONG_SOUND)
        if not data.startswith(b"fLaC"):
            return _said("The file is not a FLAC recording.")
        return self._within_budget(Shown(uri=_data_uri("audio/flac", data)))

    def _bytes(self, sha256: str) -> bytes | None:
        try:
            return self._load(sha256)
        except (
            Exception
        ):  # whatever the reader of a damaged package meets, the report says the same
            return None

    def _within_budget(self, shown: Shown) -> Shown:
        if shown.uri is None:
            return shown
        if len(shown.uri) > self._left:
            self._left = 0
            return _said(_PAGE_FULL)
        self._left -= len(shown.uri)
        return shown


def preview(data: bytes | None, wanted: Wanted) -> Shown:
    """A JPEG of an original, upright, its long side at most ``wanted.longest`` pixels."""
    if data is None:
        return _said(_NOT_THERE)
    try:
        width, height, turn = _header(data, wanted.kind)
        if width * height > MAX_PREVIEW_PIXELS:
            return _said(_TOO_LARGE)
        small = _reduced(data, wanted)
        if turn is not None:
            small = small.transpose(turn)
    except Exception:  # a hostile picture raises almost anything; it never ends the report
        return _said(_NO_PICTURE)
    file = io.BytesIO()
    small.save(file, "JPEG", quality=QUALITY, subsampling="4:2:0", optimize=True)
    return Shown(_data_uri("image/jpeg", file.getvalue()), None, small.width, small.height)


_FORMATS = {"photo": "JPEG", "markup": "PNG"}

# What makes a picture upright, by its Exif orientation (CIPA DC-008, tag 0x0112).
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def _header(data: bytes, kind: str) -> tuple[int, int, Image.Transpose | None]:
    """Width and height in pixels and the turn that makes the picture upright."""
    if kind == "photo":
        header = read_header(data)
        return header.width, header.height, _TURNS.get(header.orientation)
    if data[:8] != b"\x89PNG\r\n\x1a\n" or len(data) < 24:
        raise PhotoError("this is not a PNG picture")
    return *struct.unpack(">II", data[16:24]), None


def _reduced(data: bytes, wanted: Wanted) -> Image.Image:
    with Image.open(io.BytesIO(data), formats=[_FORMATS[wanted.kind]]) as picture:
        # The decoder reduces by 2, 4 or 8 by itself, to no less than what is wanted.
        picture.draft("RGB", (wanted.longest, wanted.longest))
        picture.load()
        scale = wanted.longest / max(picture.size)
        if scale < 1:
            box = tuple(max(1, round(side * scale)) for side in picture.size)
            # As sharp as a preview needs, at half the cost of the longest filter.
            return picture.convert("RGB").resize(box, Image.Resampling.HAMMING)
        return picture.convert("RGB")


def _batches(wanted: list[Wanted]) -> Iterator[list[Wanted]]:
    source = iter(wanted)
    while batch := list(islice(source, _TOGETHER)):
        yield batch


def _data_uri(media_type: str, data: bytes) -> str:
    return f"data:{media_type};base64,{base64.b64encode(data).decode('ascii')}"


def _said(problem: str) -> Shown:
    return Shown(uri=None, problem=problem)
