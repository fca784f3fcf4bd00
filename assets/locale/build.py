"""Puts the screens' catalogues in order and compiles them: python assets/locale/build.py

Writes each tablet.po and desk.po sorted by its English texts and without texts that no
screen has any more, and what is compiled from it beside it. Texts that neither catalogue of
a language says are printed, and the exit status is then 1. Needs babel.
"""

from __future__ import annotations

import sys
from pathlib import Path

from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from evidence_app.tablet.presenting.words import DOMAINS

_HERE = Path(__file__).resolve().parent
_ROOM = _HERE.parent.parent / "evidence_app" / "tablet"
_KEYWORDS = {"say": None, "say_many": (1, 2), "mark": None}


def texts() -> dict:
    """Every text of the screens: its key, and with that the text itself or its two forms."""
    found = {}
    for _, _, message, _, _ in extract_from_dir(str(_ROOM), keywords=_KEYWORDS):
        found[message if isinstance(message, str) else message[0]] = message
    return found


def build(path: Path, wanted: dict) -> set[str]:
    """The texts that the catalogue at ``path`` says, after it was written in order."""
    with path.open("rb") as file:
        catalogue = read_po(file, ignore_obsolete=True)
    said = set()
    for message in list(catalogue):
        if not message.id:
            continue
        key = message.id if isinstance(message.id, str) else message.id[0]
        message.locations, message.auto_comments = [], []
        if key not in wanted:
            catalogue.delete(key)
        elif all([message.string] if isinstance(message.string, str) else message.string or [""]):
            said.add(key)
    with path.open("wb") as file:
        write_po(file, catalogue, width=100, sort_output=True, omit_header=False)
    with path.with_suffix(".mo").open("wb") as file:
        write_mo(file, catalogue)
    return said


def main() -> int:
    wanted, lacking = texts(), 0
    for folder in sorted(_HERE.glob("*/LC_MESSAGES")):
        said = set().union(*(build(folder / f"{name}.po", wanted) for name in DOMAINS))
        for text in wanted.keys() - said:
            print(f"{folder.parent.name}: {text!r}")
            lacking += 1
    return 1 if lacking else 0


if __name__ == "__main__":
    sys.exit(main())
