"""A spoken note while it is recorded: the level in words, the quiet, the gaps."""

import math

from evidence_app.language import say, say_many
from evidence_app.sentence import Sentence

_VOICE_DBFS = -50.0
_TELL_QUIET_S = 8.0


def level_words(sentence: Sentence | None, rms_dbfs: float) -> str:
    """``sentence`` is the meter's, when one is due."""
    if sentence:
        return say(sentence)
    return say("The voice is heard.") if rms_dbfs > _VOICE_DBFS else say("Quiet.")


def quiet_words(left_s: float | None, dropouts: int) -> str:
    """That the note ends by itself soon, and how many gaps its sound has."""
    parts = []
    if left_s is not None and left_s < _TELL_QUIET_S:
        parts.append(say("Nobody speaks: the note ends by itself in {count} s.", count=math.ceil(left_s)))
    if dropouts:
        parts.append(say_many("The sound has {count} gap.", "The sound has {count} gaps.", dropouts))
    return " ".join(parts)
