"""A defect of a step list: where it stands in the file and what to do."""

from msgspec import Struct

from evidence_app.sentence import Sentence, sentences_beside

#: Keys as the file spells them, and positions (from 0) in arrays, from the top.
Path = tuple[str | int, ...]


class Defect(Struct, frozen=True):
    """``what`` is wrong at ``path``; ``remedy`` says what to write instead."""

    path: Path
    what: Sentence
    remedy: Sentence


def defect(path: Path, why: str, /, **values: object) -> Defect:
    """The defect ``why`` of the table beside this module, with ``values`` in its {named} places."""
    words = sentences_beside(__file__)[why]
    return Defect(path, words["what"].filled(values), words["remedy"].filled(values))
