"""Is each original the picture or sound that its event says?

Photos are decoded to their end at an eighth of their size, drawings whole, notes piece by
piece: memory is bounded by one original and by the largest picture that is accepted.
"""

import io
from collections.abc import Iterator
from typing import NamedTuple

from evidence_app import limits
from evidence_app.errors import EvidenceError
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


class Sound(NamedTuple):
    """``loudest_dbfs`` is the root mean square of the loudest 50 ms."""

    seconds: float
    rate: int
    loudest_dbfs: float


def media_problems(case: Case) -> list[Sentence]:
    """Everything in which an original is not of the kind, size or length that was recorded."""
    problems: list[Sentence] = []
    stopped = 0
    for event in case.events:
        if event.kind == "repair-stopped":
            stopped = event.sequence
        ref = _ref(event)
        if not isinstance(ref, str) or (path := case.find_original(ref)) is None:
            continue  # said by the list of originals
        data = case.load_original(ref)
        for what in _LOOK[event.kind](event, data, case.asked.compare_pictures, stopped):
            problems.append(sentence("{file}: {what}", file=path, what=what))
    return problems


def _ref(event: Event) -> str | None:
    field = {"photo-taken": "photo", "note-recorded": "audio", "measured": "markup"}.get(event.kind)
    ref = event.body.get(field) if field else None
    return ref.get("sha256") if isinstance(ref, dict) else None


def _photo(event: Event, data: bytes, decoding: bool, stopped: int) -> Iterator[Sentence]:
    from evidence_app.photo.intake import decode_luma, read_header

    try:
        header = read_header(data)
        if decoding:
            decode_luma(data, 8)
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


def _drawing(event: Event, data: bytes, decoding: bool, stopped: int) -> Iterator[Sentence]:
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data), formats=["PNG"]) as picture:
            small = picture.width * picture.height <= limits.DRAWING_PIXELS
            if decoding and small:
                picture.load()
    except Exception:  # a hostile picture raises almost anything
        small = False
    if not small:
        yield sentence("is no whole PNG drawing")


def _note(event: Event, data: bytes, decoding: bool, stopped: int) -> Iterator[Sentence]:
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
