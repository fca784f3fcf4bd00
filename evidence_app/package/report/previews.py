"""The pictures and sounds that a report carries inside itself.

A preview is made from an original and is for looking only; the original stands
in the package. The same original gives the same preview with the same version
of the picture library, which the report names, so one that was kept when the
photo came in serves as well. What cannot be shown is said in a sentence, never
left out.
"""

import base64
import hashlib
import io
import re
import secrets
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import islice

from markupsafe import Markup
from msgspec import Struct, structs

from evidence_app import limits
from evidence_app.errors import PhotoError
from evidence_app.photo.preview import make_preview, maker, read_preview
from evidence_app.sentence import Sentence, sentence

Load = Callable[[str], bytes]
Kept = Callable[[str, str], bytes | None]
"""A preview that was kept: (SHA-256 of the original, maker) -> JPEG, or None."""
Progress = Callable[[int, int], None]
Wanted = tuple[str, str]
"""A picture to preview: its SHA-256, and its kind as in photo.preview.KINDS."""

PICTURE_URI = "data:image/jpeg;base64,"

_NOT_THERE = sentence("The original is not in the package under its checksum.")
_PAGE_FULL = sentence("Not shown here, to keep this page small enough to open.")
_LONG_SOUND = sentence("Too long to be played from this page.")

# Loaded at a time, so that memory holds a few originals and never all of them.
_TOGETHER = 8
_THREADS = 2


class Medium(Struct, frozen=True):
    """A data URI with its size in pixels, or the sentence why there is none."""

    uri: Markup | None
    problem: Sentence | None = None
    width: int = 0
    height: int = 0


class Embedded:
    """Previews and sounds within one budget; asking in the same order gives the same."""

    def __init__(self, load: Load, kept: Kept | None = None) -> None:
        self._load = load
        self._kept = kept or (lambda sha256, maker: None)
        self._left = limits.EMBEDDED_BYTES

    def pictures(self, wanted: Iterable[Wanted], progress: Progress | None) -> dict[str, Medium]:
        """Previews by SHA-256. Each original is shown once."""
        first: dict[str, str] = {}
        for sha256, kind in wanted:
            first.setdefault(sha256, kind)
        shown: dict[str, Medium] = {}
        with ThreadPoolExecutor(_THREADS) as pool:
            for batch in _batches(first.items()):
                if self._left <= 0:
                    made: Iterator = (_said(_PAGE_FULL) for _ in batch)
                else:
                    made = pool.map(self._preview, batch)
                for (sha256, _), picture in zip(batch, made, strict=True):
                    shown[sha256] = self._within_budget(picture)
                if progress:
                    progress(len(shown), len(first))
        return shown

    def sound(self, sha256: str) -> Medium:
        """A FLAC recording as a data URI."""
        data = self._bytes(sha256)
        if data is None:
            return _said(_NOT_THERE)
        if len(data) > limits.EMBEDDED_SOUND_BYTES:
            return _said(_LONG_SOUND)
        if not data.startswith(b"fLaC"):
            return _said(sentence("The file is not a FLAC recording."))
        return self._within_budget(Medium(_encoded("data:audio/flac;base64,", data)))

    def _preview(self, wanted: Wanted) -> Medium:
        sha256, kind = wanted
        try:
            kept = self._kept(sha256, maker())
            if kept is not None:
                picture = read_preview(kept)
            else:
                data = self._bytes(sha256)
                if data is None:
                    return _said(_NOT_THERE)
                picture = make_preview(data, kind)
        except PhotoError as problem:
            return _said(sentence("No preview: {problem}.", problem=problem.what))
        uri = _encoded(PICTURE_URI, picture.jpeg)
        return Medium(uri, None, picture.width, picture.height)

    def _bytes(self, sha256: str) -> bytes | None:
        try:
            return self._load(sha256)
        except Exception:  # whatever the reader of a damaged package meets, the report says the same
            return None

    def _within_budget(self, shown: Medium) -> Medium:
        if shown.uri is None:
            return shown
        if len(shown.uri) > self._left:
            self._left = 0
            return _said(_PAGE_FULL)
        self._left -= len(shown.uri)
        return shown


class Unpictured(Embedded):
    """Leaves every picture empty: for comparing the words of two reports alone."""

    def pictures(self, wanted: Iterable[Wanted], progress: Progress | None) -> dict[str, Medium]:
        return {sha256: Medium(Markup(PICTURE_URI)) for sha256, _ in wanted}


class Digested(Embedded):
    """Keeps the length and SHA-256 of each picture and sound, and in the page a mark for it."""

    def __init__(self, load: Load, kept: Kept | None = None) -> None:
        super().__init__(load, kept)
        self._mark = secrets.token_hex(8)  # which nobody can write into a note beforehand
        self._digests: list[tuple[int, bytes]] = []

    def _within_budget(self, shown: Medium) -> Medium:
        shown = super()._within_budget(shown)
        if shown.uri is None:
            return shown
        data = shown.uri.encode("ascii")
        self._digests.append((len(data), hashlib.sha256(data).digest()))
        return structs.replace(shown, uri=Markup(f"{self._mark}-{len(self._digests)};"))

    def is_all_of(self, file: io.RawIOBase, page: bytes) -> bool:
        """Whether ``file`` is the page with its pictures and sounds; one at a time is in memory."""
        read = io.BufferedReader(file).read
        for place, part in enumerate(re.split(rf"{self._mark}-(\d+);".encode(), page)):
            if place % 2:
                length, digest = self._digests[int(part) - 1]
                if hashlib.sha256(read(length)).digest() != digest:
                    return False
            elif read(len(part)) != part:
                return False
        return not read(1)


def _batches(wanted: Iterable[Wanted]) -> Iterator[list[Wanted]]:
    source = iter(wanted)
    while batch := list(islice(source, _TOGETHER)):
        yield batch


def _encoded(start: str, data: bytes) -> Markup:
    """A data URI. It is of harmless letters, which the page need not search through."""
    return Markup(start + base64.b64encode(data).decode("ascii"))


def _said(problem: Sentence) -> Medium:
    return Medium(uri=None, problem=problem)
