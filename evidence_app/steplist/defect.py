"""A defect of a step list: where it stands in the file and what to do."""

from msgspec import Struct

from evidence_app.sentence import Sentence

#: Keys as the file spells them, and positions (from 0) in arrays, from the top.
Path = tuple[str | int, ...]


class Defect(Struct, frozen=True):
    """``what`` is wrong at ``path``; ``remedy`` says what to write instead."""

    path: Path
    what: Sentence
    remedy: Sentence


def defect(path: Path, what: str, remedy: str, /, **values: object) -> Defect:
    """A defect in the templates ``what`` and ``remedy``, whose {named} places ``values`` fill."""
    named = tuple(values.items())
    return Defect(path, Sentence(what, named), Sentence(remedy, named))
