"""A defect of a step list: where it stands in the file and what to do."""

from msgspec import Struct

#: Keys as the file spells them, and positions (from 0) in arrays, from the top.
Path = tuple[str | int, ...]


class Defect(Struct, frozen=True):
    """``what`` is wrong at ``path``; ``remedy`` says what to write instead."""

    path: Path
    what: str
    remedy: str
