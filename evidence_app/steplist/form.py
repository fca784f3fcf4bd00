"""Does the data of a file have the form that the types ask for.

The types in ``model`` are the only description: this module walks them beside
the data and collects every departure, where a converter would stop at the
first. Data without a defect converts without an error.
"""

import difflib
import math
import re
from collections.abc import Iterator
from typing import Any

from msgspec import inspect

from evidence_app.steplist.defect import Defect, Path
from evidence_app.steplist.model import StepList

_STEP_LIST = inspect.type_info(StepList)
# Text goes into reports and journals: line breaks and tabs are the only controls it may hold.
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def form_defects(data: dict[str, Any]) -> list[Defect]:
    """Every unknown or missing key and every value of the wrong kind."""
    return list(_walk(data, _STEP_LIST, ()))


def _walk(value: Any, kind: inspect.Type, path: Path) -> Iterator[Defect]:
    kind, description = _unwrap(kind)
    match kind:
        case inspect.StructType():
            yield from _walk_table(value, kind, path)
        case inspect.VarTupleType():
            yield from _walk_array(value, kind, path)
        case inspect.EnumType():
            words = [word.value for word in kind.cls]
            if value not in words:
                yield Defect(
                    path,
                    f"expected one of {_quoted(words)}, found {_found(value)}",
                    f"Write {path[-1]} with one of these words",
                )
        case inspect.StrType():
            yield from _walk_text(value, kind, path, description)
        case inspect.BoolType():
            if not isinstance(value, bool):
                yield _mismatch(path, "true or false", value, "true")
        case inspect.IntType() | inspect.FloatType():
            yield from _walk_number(value, kind, path)
        case _:
            raise TypeError(f"no form is known for {kind!r}")


def _walk_table(value: Any, kind: inspect.StructType, path: Path) -> Iterator[Defect]:
    if not isinstance(value, dict):
        yield Defect(
            path,
            f"expected a table, found {_found(value)}",
            f"Write a table with the keys {', '.join(f.encode_name for f in kind.fields)}",
        )
        return
    known = {field.encode_name: field for field in kind.fields}
    for key, inner in value.items():
        if key in known:
            yield from _walk(inner, known[key].type, (*path, key))
        else:
            yield Defect((*path, key), f'unknown key "{key}"', _nearest(key, list(known)))
    for key, field in known.items():
        if field.required and key not in value:
            yield Defect(
                path,
                f'the required key "{key}" is missing',
                f"Add {_example((*path, key), field.type)}",
            )


def _walk_array(value: Any, kind: inspect.VarTupleType, path: Path) -> Iterator[Defect]:
    if not isinstance(value, list):
        yield Defect(path, f"expected an array, found {_found(value)}", f"Write {_example(path, kind)}")
        return
    if kind.min_length and len(value) < kind.min_length:
        yield Defect(
            path, f"expected at least {kind.min_length} here, found none", f"Add {_example(path, kind)}"
        )
    for index, inner in enumerate(value):
        yield from _walk(inner, kind.item_type, (*path, index))


def _walk_text(value: Any, kind: inspect.StrType, path: Path, description: str) -> Iterator[Defect]:
    expected = description or "text"
    if not isinstance(value, str):
        yield _mismatch(path, expected, value, '"…"')
    elif kind.max_length is not None and len(value) > kind.max_length:
        yield Defect(
            path,
            f"the text has {len(value)} characters, more than {kind.max_length}",
            "Shorten it, or share it between two steps",
        )
    elif kind.pattern is not None and not re.search(kind.pattern, value):
        yield Defect(
            path, f"expected {expected}, found {_found(value)}", f"Write {_name(path)} as {expected}"
        )
    elif control := _CONTROL.search(value):
        yield Defect(
            path,
            f"the text holds the control character U+{ord(control.group()):04X}",
            "Remove it; only line breaks and tabs are allowed",
        )


def _walk_number(value: Any, kind: inspect.IntType | inspect.FloatType, path: Path) -> Iterator[Defect]:
    whole = isinstance(kind, inspect.IntType)
    expected = "a whole number" if whole else "a number"
    bounds = [
        (kind.ge, "of at least", lambda limit: value >= limit),
        (kind.gt, "greater than", lambda limit: value > limit),
        (kind.le, "of at most", lambda limit: value <= limit),
    ]
    given = [(limit, words, holds) for limit, words, holds in bounds if limit is not None]
    expected += " and".join(f" {words} {limit:g}" for limit, words, _ in given)
    if kind.ge is not None and kind.ge == kind.le:
        expected = f"{kind.ge:g}"
    accepted = int if whole else (int, float)
    sound = (
        isinstance(value, accepted)
        and not isinstance(value, bool)
        and (whole or _is_finite(value))
        and all(holds(limit) for limit, _, holds in given)
    )
    if not sound:
        example = given[0][0] + (1 if given[0][1] == "greater than" else 0) if given else 1
        yield _mismatch(path, expected, value, f"{example:g}")


def _is_finite(value: int | float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number beyond the range of floats
        return False


def _unwrap(kind: inspect.Type) -> tuple[inspect.Type, str]:
    """The kind without its "or absent" and its description, and that description."""
    description = ""
    while True:
        if isinstance(kind, inspect.Metadata):
            description = (kind.extra_json_schema or {}).get("description", description)
            kind = kind.type
        elif isinstance(kind, inspect.UnionType):
            (kind,) = (k for k in kind.types if not isinstance(k, inspect.NoneType))
        else:
            return kind, description


def _mismatch(path: Path, expected: str, value: Any, example: str) -> Defect:
    return Defect(
        path, f"expected {expected}, found {_found(value)}", f"Write it as {_name(path)} = {example}"
    )


def _name(path: Path) -> str:
    """The last key of the path; positions in arrays have none of their own."""
    return next(str(part) for part in reversed(path) if isinstance(part, str))


def _example(path: Path, kind: inspect.Type) -> str:
    """How to write the value at ``path``, as a line of the file or in words."""
    kind, description = _unwrap(kind)
    key = _name(path)
    header = ".".join(part for part in path if isinstance(part, str))
    match kind:
        case inspect.VarTupleType():
            inner, _ = _unwrap(kind.item_type)
            is_tables = isinstance(inner, inspect.StructType)
            return f"a table headed [[{header}]]" if is_tables else f'{key} = ["…"]'
        case inspect.StructType():
            keys = [field.encode_name for field in kind.fields if field.required]
            return f"a table headed [{header}] with {', '.join(keys) or 'one of its keys'}"
        case inspect.EnumType():
            return f'{key} = "{next(iter(kind.cls)).value}"'
        case inspect.IntType():
            return f"{key} = {kind.ge or 0}"
        case inspect.FloatType():
            return f"{key} = 1.0"
        case _:
            return f'{key} = "…" ({description})' if description else f'{key} = "…"'


def _nearest(key: str, known: list[str]) -> str:
    close = difflib.get_close_matches(key.replace("_", "-").lower(), known, n=1)
    return f'Perhaps "{close[0]}" is meant' if close else f"Remove it; known here: {', '.join(known)}"


def _quoted(words: list[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _found(value: Any) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            short = value if len(value) <= 40 else value[:39] + "…"
            return f'the text "{short}"'.replace("\n", " ") if value.strip() else "blank text"
        case int():
            return f"the whole number {value}" if abs(value) < 10**15 else "a very large number"
        case float():
            return f"the number {value}"
        case dict():
            return "a table"
        case list():
            return "an array"
        case _:
            return "a date or time"
