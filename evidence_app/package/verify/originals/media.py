"""Is each original the picture or sound that its event says?

Photos are decoded once, to their end, at the size of the report's preview, which is kept for
comparing the report; drawings whole, notes piece by piece. Memory is bounded by an original and the
largest picture that is accepted for each of two threads, and by what is kept of previews.
"""

import io
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import NamedTuple

from evidence_app import limits
from evidence_app.errors import EvidenceError, PhotoError
from evidence_app.package.verify.case import Case
from evidence_app.package.verify.result import said
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence

MOST_SECONDS_APART = 0.02
"""Between a note's length and what its event says, which is rounded to the millisecond."""

QUIET_DBFS = -50.0
"""A note without 50 ms this loud says nothing; speech at arm's length is 20 dB and more above
(common practice, no source)."""

LEAST_REASON_S = 0.4
"""No reason is said in less; one short word takes about as long (common practice, no source)."""

_PIECE_S = 0.05
_THREADS = 2
_KEPT_BYTES = 8_000_000  # the previews of some 60 photos


class Sound(NamedTuple):
    """``loudest_dbfs`` is the root mean square of the loudest 50 ms."""

    seconds: float
    rate: int
    loudest_dbfs: float


def media_problems(case: Case) -> list[Sentence]:
    """Everything in which an original is not of the kind, size or length that was recorded."""
    entries: list[tuple[Event, str, bool]] = []
    stopped = False
    for event in case.events:
        stopped |= event.kind == "repair-stopped"
        ref = _ref(event)
        if isinstance(ref, str) and case.find_original(ref) is not None:  # else said by the list of them
            entries.append((event, ref, stopped))
    with ThreadPoolExecutor(_THREADS) as pool:
        looked = pool.map(lambda entry: list(_LOOK[entry[0].kind](case, *entry)), entries)
        return [
            sentence("{file}: {what}", file=case.find_original(ref), what=what)
            for (_, ref, _), told in zip(entries, looked, strict=True)
            for what in told
        ]


def _ref(event: Event) -> str | None:
    field = {"photo-taken": "photo", "note-recorded": "audio", "measured": "markup"}.get(event.kind)
    ref = event.body.get(field) if field else None
    return ref.get("sha256") if isinstance(ref, dict) else None


def _photo(case: Case, event: Event, ref: str, stopped: bool) -> Iterator[Sentence]:
    from evidence_app.photo.intake import decode_luma, read_header

    data = case.load_original(ref)
    try:
        header = read_header(data)
        if case.asked.compare_pictures and not _preview(case, ref, data):
            decode_luma(data, 8)  # what no preview is made of may still be a photo
    except EvidenceError as error:
        yield from said(error)
        return
    told = (event.body.get("width"), event.body.get("height"))
    if told != (header.width, header.height):
        yield sentence(
            "has {width} x {height} pixels, event {sequence} says {told_width} x {told_height}",
            width=header.width,
            height=header.height,
            sequence=event.sequence,
            told_width=told[0],
            told_height=told[1],
        )


def _preview(case: Case, ref: str, data: bytes) -> bool:
    """Whether there is a preview of the photo; kept for the report's check as far as there is room."""
    from evidence_app.photo.preview import make_preview

    with suppress(PhotoError):
        jpeg = make_preview(data, "photo").jpeg
        if sum(map(len, case.previews.values())) < _KEPT_BYTES:
            case.previews[ref] = jpeg
        return True
    return False


def _drawing(case: Case, event: Event, ref: str, stopped: bool) -> Iterator[Sentence]:
    from PIL import Image

    try:
        with Image.open(io.BytesIO(case.load_original(ref)), formats=["PNG"]) as picture:
            small = picture.width * picture.height <= limits.DRAWING_PIXELS
            if case.asked.compare_pictures and small:
                picture.load()
    except Exception:  # a hostile picture raises almost anything
        small = False
    if not small:
        yield sentence("is no whole PNG drawing")


def _note(case: Case, event: Event, ref: str, stopped: bool) -> Iterator[Sentence]:
    data = case.load_original(ref)
    told, rate = event.body.get("seconds"), event.body.get("rate")
    if not data and told == 0:
        return  # a note without a single sample
    sound = _listen(data)
    if sound is None:
        yield sentence("is no whole FLAC recording")
        return
    if not isinstance(told, int | float) or abs(sound.seconds - told) > MOST_SECONDS_APART:
        yield sentence(
            "lasts {seconds:.2f} s, event {sequence} says {told} s",
            seconds=sound.seconds,
            sequence=event.sequence,
            told=told,
        )
    if sound.rate != rate:
        yield sentence("is at {rate} samples a second, not {told}", rate=sound.rate, told=rate)
    if stopped and sound.loudest_dbfs < QUIET_DBFS:
        yield sentence(
            "is the spoken reason of a stop, and nothing is heard in it: its loudest part is at "
            "{level:.0f} dBFS",
            level=max(sound.loudest_dbfs, -120.0),
        )


def says_nothing(data: bytes) -> bool:
    """Whether a note, a whole FLAC file, is too quiet or too short to say a reason."""
    sound = _listen(data)
    return sound is None or sound.loudest_dbfs < QUIET_DBFS or sound.seconds < LEAST_REASON_S


def _listen(data: bytes) -> Sound | None:
    import numpy as np
    import soundfile

    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            if file.format != "FLAC" or file.frames > limits.NOTE_SAMPLES:
                return None
            piece, frames, loudest = max(1, round(_PIECE_S * file.samplerate)), 0, 0.0
            for block in file.blocks(piece, dtype="float32", always_2d=True):
                frames += len(block)
                loudest = max(loudest, float(np.sqrt(np.mean(np.square(block)))))
            if frames != file.frames:
                return None
            level = 20 * float(np.log10(max(loudest, 1e-9)))
            return Sound(frames / file.samplerate, file.samplerate, level)
    except (soundfile.SoundFileError, RuntimeError, ValueError, OSError):
        return None


_LOOK = {"photo-taken": _photo, "measured": _drawing, "note-recorded": _note}
