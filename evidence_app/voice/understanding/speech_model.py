"""The speech model: sound in, words with their probability out. Nothing leaves the device.

An English encoder and decoder of about 27 million weights, as the wheel of
moonshine-voice 0.1.0 carries them, run by ONNX Runtime. Only the files of that wheel are
read; its code, which can download other models, is never imported. The files are
compared with their known SHA-256 first, so a damaged one is refused and not run.
"""

from __future__ import annotations

import hashlib
import importlib.util
import sys
from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache, partial
from pathlib import Path

import numpy as np

from evidence_app.errors import VoiceError
from evidence_app.sentence import sentences_beside
from evidence_app.voice.understanding.value_paths import Paths

NAME = "moonshine tiny-en"
VERSION = "0.1.0"
FILES = {
    "encoder_model.ort": "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
    "decoder_model_merged.ort": "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
    "tokenizer.bin": "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
}
# The commands that help, as they are typed on this machine.
_INSTALL = f"{sys.executable} -m pip install"
_AGAIN = f"{_INSTALL} --force-reinstall moonshine-voice=={VERSION}"
_WORDS = sentences_beside(__file__)
_BEGIN, _END = 1, 2  # the model's own tokens for the beginning and the end of a text
_HEADS, _WIDTH = 8, 36  # of the decoder's attention, for its empty memory
_BLANK = "▁"  # how the vocabulary writes a blank
# A person speaks some five tokens a second; more is the model repeating itself.
_TOKENS_A_SECOND = 6.5
_STRIDE = 384  # samples for one vector of the encoder
_KEPT_TEXTS = 8192
_SHORTEST = 1600  # samples; the encoder needs more than one window


def installed_folder() -> Path | None:
    """Where the model's files are, None when the package is not installed."""
    found = importlib.util.find_spec("moonshine_voice")
    if found is None or not found.submodule_search_locations:
        return None
    return Path(found.submodule_search_locations[0]) / "assets" / "tiny-en"


class SpeechModel:
    """Loaded from ``folder``, or from the installed package. Raises VoiceError.

    ``threads``: how many processor cores one utterance may use.
    """

    def __init__(self, folder: Path | None = None, threads: int = 1) -> None:
        folder = folder or installed_folder()
        if folder is None:
            raise VoiceError.worded(_WORDS["absent"], command=_AGAIN)
        tokens = _checked(folder, "tokenizer.bin")
        encoder, decoder = (_checked(folder, name) for name in list(FILES)[:2])
        try:
            import onnxruntime
        except ImportError as error:
            raise VoiceError.worded(_WORDS["no-runtime"], command=f"{_INSTALL} onnxruntime") from error
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        providers = ["CPUExecutionProvider"]
        try:
            self._encoder = onnxruntime.InferenceSession(encoder, options, providers)
            self._decoder = onnxruntime.InferenceSession(decoder, options, providers)
        except Exception as error:  # the runtime's exceptions share no other class
            why = type(error).__name__
            raise VoiceError.worded(_WORDS["unloadable"], str(folder), why=why, command=_AGAIN) from error
        self._tokens = _read_tokens(tokens)
        # A sign can stand in the table twice, as a byte and as itself: the latter is used.
        self._number = {token: place for place, token in enumerate(self._tokens)}
        # Not of the model itself, which a circle would keep long after its last use.
        self.spell = lru_cache(_KEPT_TEXTS)(partial(_spell, self._number))
        """The tokens of a piece of text."""
        self._memory = [i.name for i in self._decoder.get_inputs() if i.name.startswith("past")]

    def listen(self, samples: np.ndarray) -> Heard:
        """``samples`` int16 at 16 kHz, shape (n,), one utterance of at most some 30 s."""
        return Heard(self, samples)

    def tokens_of(self, text: str) -> list[int]:
        """The tokens that spell ``text`` as a whole."""
        return list(self.spell(f" {text}"))

    def ends_in_digit(self, token: int) -> bool:
        return self._tokens[token][-1:].isdigit()

    def text_of(self, tokens: Sequence[int]) -> str:
        spelled = b"".join(self._tokens[token] for token in tokens if token > _END)
        return spelled.decode("utf-8", "replace").replace(_BLANK, " ").strip()

    def encode(self, samples: np.ndarray) -> np.ndarray:
        sound = samples.astype(np.float32) / 32768
        sound = np.pad(sound, (0, max(0, _SHORTEST - len(sound))))[None]
        mask = np.ones(sound.shape, np.int64)
        return self._encoder.run(None, {"input_values": sound, "attention_mask": mask})[0]

    def decode(
        self, hidden: np.ndarray, tokens: np.ndarray, memory: dict | None = None
    ) -> tuple[np.ndarray, dict]:
        """Log probabilities, shape (rows, length, vocabulary), and the memory for the next."""
        rows = len(tokens)
        hidden = np.ascontiguousarray(np.broadcast_to(hidden, (rows, *hidden.shape[1:])))
        empty = np.zeros((rows, _HEADS, 0, _WIDTH), np.float32)
        given = {
            "input_ids": tokens,
            "encoder_hidden_states": hidden,
            # In samples: the decoder takes one in so many, as many as there are vectors.
            "encoder_attention_mask": np.ones((rows, hidden.shape[1] * _STRIDE), np.int64),
            "use_cache_branch": np.array([memory is not None]),
            **(memory or dict.fromkeys(self._memory, empty)),
        }
        logits, *grown = self._decoder.run(None, given)
        kept = dict(zip(self._memory, grown, strict=True))
        if memory is not None:  # what was kept of the sound comes back empty
            kept |= {name: memory[name] for name in self._memory if ".encoder." in name}
        top = logits.max(-1, keepdims=True)
        return logits - top - np.log(np.exp(logits - top).sum(-1, keepdims=True)), kept

    @cached_property
    def marks(self) -> list[int]:
        """What may follow a whole phrase: a mark or the end."""
        return [*self.stops, self._number[b","]]

    @cached_property
    def stops(self) -> list[int]:
        """What may end a sentence."""
        return [self._number[mark] for mark in (b".", b"?", b"!")] + [_END]


def _spell(number: Mapping[bytes, int], text: str) -> list[int]:
    """The tokens by their ``number``: pairs are joined, the most frequent ones first."""
    parts = [letter.encode() for letter in text.replace(" ", _BLANK)]
    while True:
        joins = [
            (found, place)
            for place in range(len(parts) - 1)
            if (found := number.get(parts[place] + parts[place + 1])) is not None
        ]
        if not joins:
            break
        _, place = min(joins)
        parts[place : place + 2] = [parts[place] + parts[place + 1]]
    return [number[part] for part in parts if part in number]


class Heard:
    """One utterance, to be asked in different ways; probabilities are natural logarithms."""

    def __init__(self, model: SpeechModel, samples: np.ndarray) -> None:
        self._model = model
        self._most = 2 + int(_TOKENS_A_SECOND * len(samples) / 16_000)
        self._hidden = model.encode(samples)

    def freely(self) -> tuple[str, float]:
        """The likeliest text, word for word, and its probability."""
        tokens: list[int] = []
        total = 0.0
        logs, memory = self._first
        while len(tokens) < self._most:
            best = int(logs[0, -1].argmax())
            total += float(logs[0, -1, best])
            if best == _END:
                break
            tokens.append(best)
            last = np.array([[best]], np.int64)
            logs, memory = self._model.decode(self._hidden, last, memory)
        return self._model.text_of(tokens), total

    def probability(self, texts: Sequence[str], least: float = -np.inf) -> np.ndarray:
        """Of each of ``texts``, whatever mark ends it; minus infinity for one that is less
        likely than ``least``.

        Word for word, all at once: a beginning that several share is looked at once, and one
        that is too unlikely already is not gone on with, since no text is likelier than its
        beginning.
        """
        spelled = [self._model.tokens_of(text) for text in texts]
        scores = np.zeros(len(texts))
        result = np.full(len(texts), -np.inf)
        alive, at = list(range(len(texts))), dict.fromkeys(range(len(texts)), 0)
        logs, memory = self._first
        place = 0
        while True:
            beginnings: dict[tuple[int, int], int] = {}
            going_on = []
            for text in alive:
                row, tokens = logs[at[text], -1], spelled[text]
                if place == len(tokens):
                    result[text] = scores[text] + np.logaddexp.reduce(row[self._model.marks])
                    continue
                scores[text] += row[tokens[place]]
                if scores[text] >= least:
                    beginning = (at[text], tokens[place])
                    at[text] = beginnings.setdefault(beginning, len(beginnings))
                    going_on.append(text)
            if not going_on:
                return np.where(result >= least, result, -np.inf)
            alive, place = going_on, place + 1
            source = [row for row, _ in beginnings]
            memory = {name: values[source] for name, values in memory.items()}
            last = np.array([[token] for _, token in beginnings], np.int64)
            logs, memory = self._model.decode(self._hidden, last, memory)

    @cached_property
    def _first(self) -> tuple[np.ndarray, dict]:
        """What every text begins from."""
        return self._model.decode(self._hidden, np.array([[_BEGIN]], np.int64))

    def along(self, paths: Paths, least: float = -np.inf, beams: int = 16) -> list[tuple[str, float]]:
        """The likeliest texts on ``paths`` with their probability, likeliest first; none that
        is less likely than ``least`` (beam search of ``beams`` beginnings)."""
        texts: list[tuple[str, float]] = []
        rows: list[tuple[list[int], frozenset, float]] = [([], paths.begin, 0.0)]
        logs, memory = self._first
        for _ in range(self._most):
            grown = []
            for row, (tokens, place, score) in enumerate(rows):
                ahead, over = paths.after(place)
                of_row = logs[row, -1]
                if over:
                    # Behind a numeral the full stop may be a decimal point: that is a path.
                    ends = [_END] if tokens and self._model.ends_in_digit(tokens[-1]) else self._model.stops
                    total = score + float(np.logaddexp.reduce(of_row[ends]))
                    texts.append((self._model.text_of(tokens), total))
                grown += [
                    (score + float(of_row[token]), row, token, target) for token, target in ahead.items()
                ]
            grown = sorted((g for g in grown if g[0] >= least), key=lambda g: -g[0])[:beams]
            if not grown:
                break
            memory = {name: values[[g[1] for g in grown]] for name, values in memory.items()}
            rows = [([*rows[row][0], token], at, score) for score, row, token, at in grown]
            last = np.array([[token] for _, _, token, _ in grown], np.int64)
            logs, memory = self._model.decode(self._hidden, last, memory)
        return sorted((t for t in texts if t[1] >= least), key=lambda found: -found[1])


def _checked(folder: Path, name: str) -> bytes:
    """The bytes of a file of the model, when they are the known ones."""
    try:
        data = (folder / name).read_bytes()
    except OSError as error:
        raise VoiceError.worded(_WORDS["missing"], name, command=_AGAIN) from error
    if hashlib.sha256(data).hexdigest() != FILES[name]:
        raise VoiceError.worded(_WORDS["damaged"], name, command=_AGAIN)
    return data


def _read_tokens(data: bytes) -> list[bytes]:
    """Each token is its length (two bytes from 128 on, the low seven bits first) and bytes."""
    tokens, place = [], 0
    while place < len(data):
        length = data[place]
        place += 1
        if length >= 128:
            length += 128 * data[place] - 128
            place += 1
        tokens.append(data[place : place + length])
        place += length
    return tokens
