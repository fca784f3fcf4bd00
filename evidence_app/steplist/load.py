"""Reads a step list file, or says everything that is wrong with it.

A file is judged in three rounds, each of which needs the one before: is it
TOML text, has it the form of a step list (``form``), does it keep the rules
(``check``). A round reports all that it finds, each problem with its line.
"""

import re
import tomllib
from pathlib import Path as FilePath
from typing import Any

import msgspec

from evidence_app import limits
from evidence_app.errors import EvidenceError, StepListError
from evidence_app.prepared import prepare
from evidence_app.sentence import Sentence, joined, sentence, verbatim
from evidence_app.steplist.check import rule_defects
from evidence_app.steplist.defect import Defect, Path, defect
from evidence_app.steplist.form import form_defects
from evidence_app.steplist.model import StepList
from evidence_app.steplist.pictures import pictures_in
from evidence_app.steplist.positions import Positions

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_AT_LINE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


def load(path: str | FilePath, pictures: bool = False) -> StepList:
    """The step list in the file ``path``; with ``pictures`` those that it names are looked at too.

    Raises StepListError holding every problem found.
    """
    path = FilePath(path)
    if path.exists() and not path.is_file() and not path.is_dir():
        raise _alone(str(path), "no-file")
    try:
        with path.open("rb") as file:
            data = file.read(limits.STEP_LIST_BYTES + 1)
    except FileNotFoundError:
        raise _alone(str(path), "missing") from None
    except IsADirectoryError:
        raise _alone(str(path), "folder") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise _alone(str(path), "unreadable", reason=reason) from error
    return loads(data, str(path), path.parent if pictures else None)


def loads(data: bytes, where: str, beside: FilePath | None = None) -> StepList:
    """The step list in the bytes of a file; ``where`` names it in messages. Its pictures are
    looked for in the folder ``beside``, where there is one.

    Raises StepListError holding every problem found.
    """
    text = _text(data, where)
    table = _table(text, where)
    positions = Positions(text)
    defects = form_defects(table)
    if not defects:
        step_list = msgspec.convert(table, StepList)
        defects = rule_defects(step_list)
        if beside and not defects:
            defects = [got for _, got in pictures_in(beside, step_list) if isinstance(got, Defect)]
    if defects:
        lined = sorted(((positions.line(d.path), d) for d in defects), key=lambda pair: pair[0])
        raise StepListError([_problem(found, line, where, table) for line, found in lined])
    return step_list


def _text(data: bytes, where: str) -> str:
    if not data.strip():
        raise _alone(where, "empty")
    if len(data) > limits.STEP_LIST_BYTES:
        raise _alone(where, "too-large", most=limits.STEP_LIST_BYTES)
    if data.startswith(_BYTE_ORDER_MARK):
        raise _alone(_line(where, 1), "byte-order-mark")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _alone(_line(where, line), "not-utf-8", place=error.start, byte=data[error.start]) from None


def _table(text: str, where: str) -> dict[str, Any]:
    # The time that a TOML reader takes for a dotted name grows with the square of its parts.
    for number, line in enumerate(text.split("\n"), start=1):
        name = line if line.lstrip().startswith("[") else line.partition("=")[0]
        if name.count(".") > limits.STEP_LIST_DOTS:
            raise _alone(_line(where, number), "dots", most=limits.STEP_LIST_DOTS)
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _alone(where, "nested") from None
    except ValueError as error:  # TOMLDecodeError, or a number with thousands of digits
        problem, at = _syntax(str(error), text)
        raise _alone(_line(where, at), "not-toml", problem=problem) from None


def _syntax(message: str, text: str) -> tuple[Sentence, int]:
    """The parser's message without its position, and the line of that position."""
    at = _AT_LINE.search(message)
    last = text.rstrip().count("\n") + 1
    if at is None:
        return verbatim(message), last
    what = message[: at.start()]
    line, column = at.groups()
    if line is None:
        return sentence("{problem} at the end of the file", problem=what), last
    return sentence("{problem} at column {column}", problem=what, column=column), int(line)


def _problem(found: Defect, line: int, where: str, table: dict[str, Any]) -> EvidenceError:
    place = joined(", ", [_line(where, line), *_place(found.path, table)])
    return EvidenceError(found.what, where=place, remedy=found.remedy)


def _line(where: str, line: int) -> Sentence:
    return sentence("{file}, line {line}", file=where, line=line)


def _place(path: Path, table: dict[str, Any]) -> list[Sentence]:
    """Table and key in the file's spelling: ``[[steps]] "press"``, ``key hold.unit``."""
    tables: list[Sentence] = []
    keys: list[str] = []
    value: Any = table
    for part in path:
        value = value[part]
        if isinstance(part, str):
            keys.append(part)
        elif isinstance(value, dict):
            name = value.get("id")
            number = sentence("number {number}", number=part + 1)
            label = verbatim(f'"{name}"') if isinstance(name, str) else number
            tables.append(joined(" ", (verbatim(f"[[{'.'.join(keys)}]]"), label)))
            keys = []
        else:
            keys[-1] += f" (number {part + 1})"
    return [*tables, sentence("key {key}", key=".".join(keys))] if keys else tables


def _alone(where: Sentence | str, why: str, /, **values: object) -> StepListError:
    alone = defect((), why, **values)
    return StepListError([EvidenceError(alone.what, where=where, remedy=alone.remedy)])


prepare(StepList)
