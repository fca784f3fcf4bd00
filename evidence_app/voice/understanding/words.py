"""Every word that is understood, in one place, for one language.

A language is one ``Lexicon``. Phrases were chosen so that no one of them is a part of
another, that each has several syllables, and that the engine tells them apart. What
a phrase is for is an action's name, the same name by which touch and keys reach it.
To add a language, write another ``Lexicon``; nothing else knows a word.
"""

from msgspec import Struct


class Lexicon(Struct, frozen=True):
    """The words of one language, all lower case, without punctuation.

    ``phrases``: action -> what may be said for it, the first being the one that help
    names. ``answers``: what says yes, for ``PLAIN`` questions and for each action that is
    confirmed by naming it; the first is the one that is asked for. ``rejections`` say no;
    ``near_answers`` and ``near_phrases`` sound like a yes or a phrase and are neither.
    ``denied``: what is put before a phrase to say its opposite. ``denials``: a word of them
    in an answer makes it a no, whatever else was heard. ``answering``: a word of them in
    what is not understood has the question asked again.
    ``zero_before_point``: what else the engine writes for a zero there, ``behind_point`` for
    digits. ``misheard``: what it writes with a denial for what has none.
    ``units``: the unit as a step list writes it -> how it is spoken.
    """

    language: str
    phrases: dict[str, tuple[str, ...]]
    answers: dict[str, tuple[str, ...]]
    rejections: tuple[str, ...]
    near_answers: tuple[str, ...]
    near_phrases: tuple[str, ...]
    denied: tuple[str, ...]
    denials: frozenset[str]
    answering: frozenset[str]
    fillers: frozenset[str]
    hesitations: tuple[str, ...]
    units: dict[str, tuple[str, ...]]
    digits: dict[str, str]
    small: dict[str, int]
    tens: dict[str, int]
    scales: dict[str, int]
    parts: dict[str, tuple[int, int]]
    joiner: str
    point: frozenset[str]
    zero_before_point: frozenset[str]
    behind_point: dict[str, str]
    misheard: dict[str, str]
    minus: frozenset[str]
    spelling: dict[str, str]


PLAIN = "plain"
"""The question that any yes answers."""

_ICAO = (
    "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november "
    "oscar papa quebec romeo sierra tango uniform victor whiskey xray yankee zulu"
)

_ONES = "zero one two three four five six seven eight nine"
_TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
_PARTS = {"quarter": 4, "tenth": 10, "hundredth": 100, "thousandth": 1000}
_DENIALS = (
    "not no never nope nah wrong incorrect false mistake wait except but cancel nor neither "
    "none nothing unless without hardly"
)

ENGLISH = Lexicon(
    language="en",
    phrases={
        "next": ("next step", "go to the next step"),
        "back": ("previous step", "go to the previous step"),
        "photo": ("take the photo", "take a photo", "take the photograph"),
        "retake": ("repeat the photo", "repeat the photograph"),
        "clear": ("the finding is clear", "finding is clear"),
        "not-clear": ("the finding is not clear", "finding is not clear"),
        "cannot-tell": ("i cannot tell from this", "i cannot tell"),
        "start-hold": ("begin the hold", "start the hold"),
        "end-hold": ("release the hold", "end the hold"),
        "start-note": ("begin the recording", "begin a voice note", "begin the voice note"),
        "end-note": ("end the recording", "finish the voice note", "end the voice note"),
        "read-step": ("read it all", "read the instruction", "read the instructions"),
        "read-cautions": ("read the cautions", "read the caution"),
        "owed": ("what is still owed", "what is owed"),
        "time-left": ("how much time is left", "how long is left"),
        "help": ("name the phrases", "name all phrases"),
        "stop-repair": (
            "stop the repair",
            "stop this repair",
            "please stop the repair",
            "stop the work",
            "emergency stop",
            "stop",
            "stop stop",
            "halt",
            "hold",  # what the engine makes of "halt"; it is asked back
        ),
        "wait": ("wait a moment", "wait", "wait wait", "be quiet"),
        "mute": ("mute the microphone",),
        "unmute": ("open the microphone",),
        "take-back": ("take back the last entry", "undo the last entry", "undo last entry"),
    },
    answers={
        # Far in sound from what a denial is likely to be: "that is right" is one lost
        # sound away from "that isn't right" and "that is bright".
        PLAIN: ("yes confirmed", "yes write it down"),
        "stop-repair": ("yes stop the repair", "yes stop this repair", "yes please stop the repair"),
        "clear": ("yes clear", "yes the finding is clear"),
        "not-clear": ("yes not clear", "yes the finding is not clear", "yes the finding isn't clear"),
        "cannot-tell": ("yes i cannot tell", "yes cannot tell", "yes i cannot tell from this"),
    },
    rejections=(
        "no that is wrong",
        "that is wrong",
        "that is not right",
        "that isn't right",
        "no that is not right",
        "yes that is not right",
        "yes that isn't right",
        "yes that is wrong",
        "yes that is not correct",
        "that is not correct",
        "that isn't correct",
        "that is incorrect",
        "yes incorrect",
        "not right",
        "not correct",
        "that was not right",
        "no",
        "no no",
        "no do not stop the repair",
        "no go on",
        "wait",
        "not confirmed",
        "that is not confirmed",
        "yes not confirmed",
        "yes unconfirmed",
        "do not write it down",
        "yes do not write it down",
    ),
    near_answers=(
        "yes that is right",
        "that is right",
        "yes that is correct",
        "that is correct",
        "confirmed",
        "yes conformed",
        "yes confined",
        "yes write to him",
        "write it down",
        "is that right",
        "that is bright",
        "yes that is bright",
        "that is tight",
        "that is light",
        "that is white",
        "that is rice",
        "that is alright",
        "that is nearly right",
        "that is the right one",
        "that is on the right",
        "yes turn right",
        "what is right",
        "yes that is correctable",
        "that is collected",
        "yes collect",
        "yes clearer",
        "yes near",
        "yes nearly clear",
        "yes stop the car",
        "yes stop it there",
        "just stop the repair",
    ),
    near_phrases=(
        "i can tell from this",
        "i can tell",
        "the finding is unclear",
        "the finding is nearly clear",
        "the finding isn't clear yet",
        "the finding is not clear yet",
        "the finding is near",
        "stop it",
        "stop that",
        "stop here",
        "help",
    ),
    denied=("do not", "don't", "not", "never"),
    denials=frozenset(_DENIALS.split()),
    answering=frozenset({"yes", "right", "correct", "that", "sure", "okay", "yeah", "yep"}),
    fillers=frozenset({"please", "now", "um", "uh", "er", "erm"}),
    hesitations=("um", "uh", "er", "erm", "urm", "it is"),
    units={
        "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
        "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
        "µm": ("µm", "micrometre", "micrometres", "micrometer", "micrometers", "micron", "microns"),
        "m": ("m", "metre", "metres", "meter", "meters"),
        "mm2": ("mm2", "square millimetre", "square millimetres", "square millimeters"),
        "g": ("g", "gram", "grams", "gramme", "grammes"),
        "kg": ("kg", "kilogram", "kilograms", "kilo", "kilos"),
        "N": ("n", "newton", "newtons"),
        "N m": ("nm", "newton metre", "newton metres", "newton meter", "newton meters"),
        "kPa": ("kpa", "kilopascal", "kilopascals"),
        "bar": ("bar", "bars"),
        "s": ("s", "second", "seconds"),
        "min": ("min", "minute", "minutes"),
        "h": ("h", "hour", "hours"),
        "°C": ("°c", "degrees celsius", "degree celsius", "degrees", "celsius"),
        "°": ("°", "degree", "degrees"),
        "degrees": ("degree", "degrees"),
        "pieces": ("piece", "pieces"),
        "times": ("time", "times"),
        "V": ("v", "volt", "volts"),
        "mV": ("mv", "millivolt", "millivolts"),
        "A": ("a", "amp", "amps", "ampere", "amperes"),
        "mA": ("ma", "milliamp", "milliamps", "milliampere", "milliamperes"),
        "Ω": ("ω", "ohm", "ohms"),
        "MΩ": ("mω", "megohm", "megohms", "megaohm", "megaohms", "mega ohm", "mega ohms"),
        "dBm": ("dbm", "decibel milliwatts", "decibels milliwatt"),
        "%": ("%", "percent", "per cent"),
    },
    digits={
        **{word: str(n) for n, word in enumerate(_ONES.split())},
        **{"nought": "0", "oh": "0", "niner": "9"},
    },
    small={word: n for n, word in enumerate(_TEENS.split(), 10)},
    tens={word: 10 * n for n, word in enumerate(_TENS.split(), 2)},
    scales={"hundred": 100, "thousand": 1000},
    parts={"half": (1, 2), **{f"{word}{more}": (1, n) for word, n in _PARTS.items() for more in ("", "s")}},
    joiner="and",
    point=frozenset({"point", "decimal", "dot", "pint", "pine"}),
    zero_before_point=frozenset({"not", "naught", "o", "or"}),
    behind_point={"too": "2", "free": "3", "for": "4", "ate": "8"},
    misheard={"no finding": "the finding"},
    minus=frozenset({"minus", "negative"}),
    # ICAO Annex 10 Volume II and the ITU Radio Regulations, Appendix 14, with the common
    # spellings; and the ICAO numerals as they are pronounced. From memory.
    spelling={
        **{word: word[0].upper() for word in _ICAO.split()},
        "alpha": "A",
        "juliet": "J",
        "whisky": "W",
        "x ray": "X",
        "fox trot": "F",
        "tree": "3",
        "fower": "4",
        "fife": "5",
        "dash": "-",
        "hyphen": "-",
        "slash": "/",
    },
)
