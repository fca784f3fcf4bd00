"""Puts the catalogues in order and compiles them: python assets/locale/build.py

One catalogue for each room, <language>/LC_MESSAGES/<room>.po, sorted by its English texts.
Texts that no module of the room has any more go; a text that moved to another room takes its
translation with it. Texts without a translation are printed, and the exit status is then 1.
The help of the commands is a room of its own; click's own words are kept by hand in
click/<language>, since they differ by its version, and are only compiled here. Needs babel.
"""

from __future__ import annotations

import io
import sys
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from inspect import cleandoc
from pathlib import Path

import click
from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

_HERE = Path(__file__).resolve().parent
_PACKAGE = _HERE.parent.parent / "evidence_app"
KEYWORDS = {
    "say": None,
    "say_many": (1, 2),
    "tell_user": None,
    "mark": None,
    "sentence": None,
    "counted": (1, 2),
    "holds": (2,),  # so are these three of package/verify: a check, then the template
    "fails": (2,),
    "not_checked": (2,),
    "breach": (2,),  # of the conduct check: an event, then the template
    "_unreadable": (2,),  # of a package's archive: a place, what is wrong, the remedy
    "refuse": (1,),  # of a job's rules: what is refused, then the remedy
}
_SECOND = {"refuse": (2,), "_unreadable": (3,)}
_TABLES = ("tablet/presenting/notices.toml", "tablet/presenting/voice.toml")
_NO_DATE = datetime(2026, 1, 1, tzinfo=UTC)  # the same texts give the same file
_HEADER = "# Texts of Evidence App in another language. Room: {room}."


def _tabled(file, *_, options: dict) -> Iterator[tuple]:
    """The texts of a table: all its values but the names of things."""
    for key, value in _values(tomllib.load(file)):
        if value and key not in ("key", "shape", "press"):
            yield 1, None, value, []


def _worded(file, *_, options: dict) -> Iterator[tuple]:
    """All texts of a table of ``sentences_beside``."""
    yield from ((1, None, value, []) for _key, value in _values(tomllib.load(file)))


def _values(table: dict) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        yield from _values(value) if isinstance(value, dict) else ((key, value),)


_METHODS = [
    ("**.py", "python"),
    ("**.html", "jinja2"),
    ("**.words.toml", _worded),
    *((name, _tabled) for name in _TABLES),
]


def texts() -> dict[str, dict[str, str | tuple[str, str]]]:
    """Room -> every text of it: its key, and with that the text itself or its two forms."""
    found: dict[str, dict[str, str | tuple[str, str]]] = {}
    for keywords in (KEYWORDS, _SECOND):
        for name, _, message, _, _ in extract_from_dir(str(_PACKAGE), _METHODS, keywords=keywords):
            room = Path(name).parts[0].removesuffix(".py")
            found.setdefault(room, {})[_key(message)] = message
    found["help"] = {text: text for text in helps() if text}
    return found


def helps() -> Iterator[str]:
    """The help of every command and option."""
    from evidence_app.cli import COMMANDS, main

    yield from (line for _, _, line in COMMANDS.values())
    yield from _helps(main)


def _helps(command: click.Command) -> Iterator[str]:
    yield from (cleandoc(command.help or ""), *(getattr(each, "help", None) for each in command.params))
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            yield from _helps(command.get_command(context, name))


def read(folder: Path) -> dict[str, Message]:
    """Every translation that the catalogues of ``folder`` hold, by its English text."""
    said: dict[str, Message] = {}
    for path in sorted(folder.glob("*.po")):
        with path.open("rb") as file:
            said |= {_key(each.id): each for each in read_po(file) if each.id and _whole(each)}
    return said


def write(folder: Path, room: str, wanted: dict, said: dict[str, Message]) -> None:
    """The catalogue of one room, and what is compiled from it."""
    language = folder.parent.name
    catalogue = Catalog(
        language,
        project="Evidence App",
        version="1",
        header_comment=_HEADER.replace("{room}", room),
        msgid_bugs_address="none",
        last_translator="Evidence App contributors",
        language_team="none",
        creation_date=_NO_DATE,
        revision_date=_NO_DATE,
        fuzzy=False,
    )
    for key in sorted(wanted.keys() & said.keys()):
        catalogue.add(wanted[key], said[key].string, flags=said[key].flags - {"fuzzy"})
    written = io.BytesIO()
    write_po(written, catalogue, width=100, sort_output=True)
    (folder / f"{room}.po").write_bytes(written.getvalue())
    compile_(folder / f"{room}.po")


def compile_(path: Path) -> None:
    """The .mo beside a .po."""
    compiled = io.BytesIO()
    with path.open("rb") as file:
        write_mo(compiled, read_po(file))
    path.with_suffix(".mo").write_bytes(compiled.getvalue())


def main() -> int:
    rooms, lacking = texts(), 0
    for folder in sorted(_HERE.glob("*/LC_MESSAGES")):
        said = read(folder)
        for path in (*folder.glob("*.po"), *folder.glob("*.mo")):
            if path.stem not in rooms:
                path.unlink()
        for room, wanted in rooms.items():
            write(folder, room, wanted, said)
            for key in sorted(wanted.keys() - said.keys()):
                print(f"{folder.parent.name} {room}: {key!r}")
                lacking += 1
    for path in _HERE.glob("click/*/LC_MESSAGES/*.po"):
        compile_(path)
    return 1 if lacking else 0


def _key(message: str | tuple[str, ...]) -> str:
    return message if isinstance(message, str) else message[0]


def _whole(message: Message) -> bool:
    said = (message.string,) if isinstance(message.string, str) else message.string
    return bool(said) and all(said)


if __name__ == "__main__":
    sys.exit(main())
