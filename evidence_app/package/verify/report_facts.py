"""What a report of any layout must say and show, and what no report may do.

Its claim, serial number, outcome, disposition and fingerprint are those of the journal;
every picture and sound in it is one of the originals; it runs nothing and loads nothing.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import io
import re
from collections.abc import Iterator
from html.parser import HTMLParser

import numpy as np
from PIL import Image

from evidence_app import limits
from evidence_app.package import layout
from evidence_app.package.report.compare import MAX_BLOCK_DIFFERENCE
from evidence_app.package.report.words import HEADLINES
from evidence_app.package.verify.case import Case, Unavailable
from evidence_app.package.zip.names import shown
from evidence_app.sentence import Sentence, sentence

_MEDIA = re.compile(rb"data:(image|audio)/([a-z0-9.+-]{1,40});base64,([A-Za-z0-9+/=]*)")
_SIDE = 16

_REFUSED = frozenset({
    "script", "iframe", "frame", "frameset", "object", "embed", "applet", "portal", "base", "form",
    "foreignobject", "animate", "set", "animatetransform", "animatemotion",
})  # fmt: skip
_ADDRESSES = frozenset({
    "src", "srcset", "href", "xlink:href", "poster", "data", "action", "formaction", "background",
    "ping",
})  # fmt: skip
_HARMLESS = re.compile(r"#|data:,\Z|data:(?:image|audio)/[a-z0-9.+-]+;base64,", re.I)
_INSIDE = re.compile(r"[a-z0-9_-][a-z0-9._-]*(?:/[a-z0-9_-][a-z0-9._-]*)*\Z", re.I)
_LOADS = re.compile(r"@import|url\(|image-set\(|expression\(|\\[0-9a-f]*[g-z@(]", re.I)


def contradictions(case: Case, report: bytes) -> Iterator[Sentence]:
    """Everything in the report that the journal and the originals do not give."""
    media = _MEDIA.findall(report)
    page = _MEDIA.sub(lambda found: b"data:" + found[1] + b"/x;base64,", report)
    if len(page) > limits.REPORT_MARKUP_BYTES:
        yield sentence("{file}: is too long for a report", file=layout.REPORT)
        return
    read = _Page()
    read.feed(page.decode("utf-8", "replace"))
    read.close()
    for what in sorted(read.more_than_shown):
        yield sentence("{file}: holds {what}, which no report needs", file=layout.REPORT, what=what)
    yield from _words(case, read)
    yield from _shown(case, media)


def _words(case: Case, read: _Page) -> Iterator[Sentence]:
    text, heading = (" ".join(" ".join(parts).split()) for parts in (read.text, read.heading))
    summary = case.summary
    outcome = summary.outcome.outcome
    wanted = [summary.identity.claim, summary.identity.serial, case.read_seal().fingerprint,
              HEADLINES.get(outcome)]  # fmt: skip
    if summary.stop:
        wanted.append(summary.stop.disposition)
    for what in filter(None, wanted):
        if " ".join(str(what).split()) not in text:
            yield sentence("{file}: does not say {what}", file=layout.REPORT, what=shown(str(what)))
    for told, words in HEADLINES.items():
        if told != outcome and str(words) in heading:
            yield sentence(
                "{file}: says {what}, which the journal does not", file=layout.REPORT, what=words
            )


def _shown(case: Case, media: list[tuple[bytes, bytes, bytes]]) -> Iterator[Sentence]:
    """Sounds are the very bytes of a note; pictures look like a photo or drawing."""
    known = {place.sha256 for place in case.places}
    looks: list[np.ndarray] = []
    for number, (kind, _, encoded) in enumerate(media, start=1):
        try:
            data = base64.b64decode(encoded, validate=True)
        except (binascii.Error, ValueError):
            data = b""
        if kind == b"audio":
            sound = hashlib.sha256(data).hexdigest() in known
        else:
            looks = looks or [look for look in map(_look, _pictures(case)) if look is not None]
            look = _look(data)
            sound = look is not None and any(
                np.abs(look - each).max() <= MAX_BLOCK_DIFFERENCE for each in looks
            )
        if not sound:
            none = {"file": layout.REPORT, "number": number}
            yield sentence("{file}: picture or sound {number} is none of the originals", **none)


def _pictures(case: Case) -> Iterator[bytes]:
    for place in case.places:
        if place.role in ("photo", "markup"):
            try:
                yield case.load_original(place.sha256)
            except Unavailable:
                continue


def _look(data: bytes) -> np.ndarray | None:
    """Upright, in SIDE x SIDE mean colours; None for what is no picture of a sane size."""
    try:
        with Image.open(io.BytesIO(data), formats=["JPEG", "PNG"]) as picture:
            if picture.width * picture.height > limits.DRAWING_PIXELS:
                return None
            picture.draft("RGB", (256, 256))
            turn = picture.getexif().get(0x0112, 1)
            small = picture.convert("RGB").resize((_SIDE, _SIDE), Image.Resampling.BOX)
    except Exception:  # a hostile picture raises almost anything
        return None
    turned = {3: 2, 6: -1, 8: 1}.get(turn, 0)
    return np.rot90(np.asarray(small, np.float32), turned)


class _Page(HTMLParser):
    """Gathers the text that is seen, and whatever does more than show."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.text: list[str] = []
        self.more_than_shown: set[str] = set()
        self.heading: list[str] = []
        self._within = ""

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self._within = tag if tag in ("style", "h1", "title") else self._within
        told = {name.lower(): value or "" for name, value in attributes}
        if tag in _REFUSED or _commands(tag, told):
            self.more_than_shown.add(f"<{shown(tag)}>")
        for name, value in told.items():
            if name.startswith("on") or name == "srcdoc" or (name == "style" and _LOADS.search(value)):
                self.more_than_shown.add(f"{shown(tag)} {shown(name)}")
            elif name in _ADDRESSES and not _is_inside(tag, name, value):
                self.more_than_shown.add(f"{shown(tag)} {shown(name)} {shown(value)}")

    def handle_endtag(self, tag: str) -> None:
        self._within = "" if tag == self._within else self._within

    def handle_data(self, data: str) -> None:
        if self._within != "style":
            self.text.append(data)
        if self._within in ("h1", "title"):
            self.heading.append(data)
        if self._within == "style" and _LOADS.search(data):
            self.more_than_shown.add("style url()")


def _is_inside(tag: str, name: str, value: str) -> bool:
    link = tag == "a" and name == "href" and _INSIDE.match(value) is not None
    return link or _HARMLESS.match(value) is not None


def _commands(tag: str, told: dict[str, str]) -> bool:
    if tag == "meta" and "http-equiv" in told:
        return told["http-equiv"].lower() != "content-security-policy"
    return tag == "link" and (told.get("rel"), told.get("href")) != ("icon", "data:,")
