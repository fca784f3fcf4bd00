"""What the codes before the camera mean for the entry that is asked for."""

from collections.abc import Sequence

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.rules.entry import line
from evidence_app.language import say
from evidence_app.steplist.model import Reading
from evidence_app.tablet.presenting.working.reading import typed


class CodesShown(Struct, frozen=True):
    """``choices`` are the texts that fit here: none, the one, or several to choose from."""

    words: str
    choices: tuple[str, ...]


def codes_shown(read: Sequence[str | None], reading: Reading | None, serial: str = "") -> CodesShown:
    """What to say about ``read``, everything seen in the last moments, None where a code cannot be
    read whole; ``serial`` is the job's."""
    texts = tuple(dict.fromkeys(text.strip() for text in read if text is not None))
    fitting = tuple(text for text in texts if not _problem(text, reading, serial))
    if len(fitting) > 1:
        return CodesShown(say("There is more than one code in the picture. Which one is it?"), fitting)
    if fitting:
        return CodesShown(say("The code says: {text}", text=fitting[0]), fitting)
    if texts:
        return CodesShown(_problem(texts[0], reading, serial), ())
    if read:
        return CodesShown(
            say(
                "A code is seen but cannot be read. Come closer, hold still, and "
                "keep glare off it. A scratched code has to be typed."
            ),
            (),
        )
    return CodesShown(say("Hold the code into the picture."), ())


def _problem(text: str, reading: Reading | None, serial: str) -> str:
    """Why this text cannot be what is asked for; empty when it can."""
    try:
        line(text, "code")
        plain = text.isprintable()
    except EvidenceError:
        plain = False
    if not plain:
        return say(
            "The code was read, but it is not one plain line of text. It is another code; show the "
            "right one, or type it."
        )
    if reading is not None and typed(reading, text, serial).state == "wrong":
        return say(
            "The code says “{text}”. That is not what is asked for here: {name}. Show the "
            "right code, or type it.",
            text=text,
            name=reading.name,
        )
    return ""
