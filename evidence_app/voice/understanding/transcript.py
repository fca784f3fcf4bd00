"""The text of a voice note, made by a machine after the note has ended; advice only.

The sound is read piece by piece and cut at pauses, since the engine repeats itself on
long sound; a piece in which it does so all the same is said to be unclear. Memory does
not grow with the length of the note.
"""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import soundfile
from msgspec import Struct

from evidence_app.errors import VoiceError
from evidence_app.sentence import sentences_beside
from evidence_app.voice.note.wav import RATE
from evidence_app.voice.understanding import grammar
from evidence_app.voice.understanding.endpoint import Endpointer
from evidence_app.voice.understanding.recogniser import Recogniser
from evidence_app.voice.understanding.words import ENGLISH, Lexicon

_WORDS = sentences_beside(__file__)

UNCLEAR = "[unclear]"
_PAUSE_S, _LONGEST_S = 0.5, 20.0
_BLOCK = RATE // 2
_LONGEST_END_S = 4.0  # "um, please end the recording now", said slowly
_LONGEST_LOOP = 8  # words of a phrase that may be repeated
_MOST_REPEATS = 3  # a person may say a thing three times


class Transcript(Struct, frozen=True):
    """``text`` is empty when no speech was heard."""

    text: str
    engine: str
    version: str
    seconds: float


def transcribe(
    path: Path, recogniser: Recogniser, progress: Callable[[float], bool] | None = None
) -> Transcript | None:
    """The transcript of the FLAC or WAV at ``path``, 16 kHz mono.

    ``progress`` is told the seconds done and answers whether to go on; None is returned
    when it said no. Raises VoiceError when the sound cannot be read.
    """
    texts: list[str] = []
    seconds = 0.0
    for block, utterances in _pieces(path):
        seconds += len(block) / RATE
        texts += [_text(piece, recogniser) for piece in utterances]
        if progress is not None and not progress(seconds):
            return None
    spoken = [text for text in texts if text]
    return Transcript(" ".join(spoken), recogniser.name, recogniser.version, round(seconds, 3))


def says_only_its_end(path: Path, recogniser: Recogniser, words: Lexicon = ENGLISH) -> bool:
    """Whether all that is said in the sound at ``path`` is what ends a recording, or a hesitation.

    What is not understood may be a reason in another language: then it is not so, and neither
    where nothing was said. Raises VoiceError as ``transcribe`` does.
    """
    ending = grammar.phrases_for(grammar.Allowed("", frozenset({"end-note"})), words=words)
    begun = [(first, p) for first in words.hesitations for p in words.phrases["end-note"]]
    ending |= {f"{first}, {phrase}": "end-note" for first, phrase in begun}
    heard = False
    for _, pieces in _pieces(path):
        for piece in pieces:
            if len(piece) > _LONGEST_END_S * RATE:
                return False
            text = recogniser.hear(piece, ending)
            said = set(grammar.plain(text, words).split()).difference(words.hesitations)
            if said and ending.get(text) != "end-note":
                return False
            heard |= bool(text)
    return heard


def without_loops(text: str) -> str | None:
    """``text``, or None when a phrase comes more than three times in a row."""
    words = text.lower().split()
    for length in range(1, _LONGEST_LOOP + 1):
        for start in range(len(words) - length * (_MOST_REPEATS + 1) + 1):
            phrase = words[start : start + length]
            run = words[start : start + length * (_MOST_REPEATS + 1)]
            if run == phrase * (_MOST_REPEATS + 1):
                return None
    return text


def _pieces(path: Path) -> Iterator[tuple[np.ndarray, list[np.ndarray]]]:
    """Each block of the sound with the pieces of speech that ended in it."""
    ends = Endpointer(pause_s=_PAUSE_S, end_s=_PAUSE_S, longest_s=_LONGEST_S)
    try:
        with soundfile.SoundFile(os.fsencode(path)) as file:
            if (file.samplerate, file.channels) != (RATE, 1):
                raise VoiceError.worded(_WORDS["other-sound"], path.name)
            while len(block := file.read(_BLOCK, dtype="int16")):
                yield block, [u.samples for u in ends.feed(block) if u.kind != "pause"]
    except (soundfile.SoundFileError, OSError) as error:
        raise VoiceError.worded(_WORDS["unreadable"], path.name) from error
    yield np.zeros(0, np.int16), [u.samples for u in ends.flush()]


def _text(samples: np.ndarray, recogniser: Recogniser) -> str:
    text = recogniser.write(samples).strip()
    return UNCLEAR if without_loops(text) is None else text
