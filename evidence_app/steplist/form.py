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

from evidence_app.sentence import NOTHING, Sentence, joined, sentence, verbatim
from evidence_app.steplist.defect import Defect, Path, defect
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
                yield defect(
                    path,
                    "none-of-words",
                    words=", ".join(f'"{word}"' for word in words),
                    found=_found(value),
                    name=path[-1],
                )
        case inspect.StrType():
            yield from _walk_text(value, kind, path, description)
        case inspect.BoolType():
            if not isinstance(value, bool):
                yield _mismatch(path, sentence("true or false"), value, "true")
        case inspect.IntType() | inspect.FloatType():
            yield from _walk_number(value, kind, path)
        case _:
            raise TypeError(f"no form is known for {kind!r}")


def _walk_table(value: Any, kind: inspect.StructType, path: Path) -> Iterator[Defect]:
    if not isinstance(value, dict):
        yield defect(
            path, "no-table", found=_found(value), keys=", ".join(f.encode_name for f in kind.fields)
        )
        return
    known = {field.encode_name: field for field in kind.fields}
    for key, inner in value.items():
        if key in known:
            yield from _walk(inner, known[key].type, (*path, key))
        else:
            yield _unknown((*path, key), key, list(known))
    for key, field in known.items():
        if field.required and key not in value:
            yield defect(path, "key-missing", key=key, example=_example((*path, key), field.type))


def _walk_array(value: Any, kind: inspect.VarTupleType, path: Path) -> Iterator[Defect]:
    if not isinstance(value, list):
        yield defect(path, "no-array", found=_found(value), example=_example(path, kind))
        return
    if kind.min_length and len(value) < kind.min_length:
        yield defect(path, "too-few", least=kind.min_length, example=_example(path, kind))
    if kind.max_length and len(value) > kind.max_length:
        yield defect(path, "too-many", most=kind.max_length, count=len(value))
    for index, inner in enumerate(value):
        yield from _walk(inner, kind.item_type, (*path, index))


def _walk_text(value: Any, kind: inspect.StrType, path: Path, description: str) -> Iterator[Defect]:
    expected = Sentence(description) if description else sentence("text")
    if not isinstance(value, str):
        yield _mismatch(path, expected, value, '"…"')
    elif kind.max_length is not None and len(value) > kind.max_length:
        yield defect(path, "text-too-long", count=len(value), most=kind.max_length)
    elif kind.pattern is not None and not re.search(kind.pattern, value):
        yield defect(path, "text-otherwise", expected=expected, found=_found(value), name=_name(path))
    elif control := _CONTROL.search(value):
        yield defect(path, "control-character", code=ord(control.group()))


def _walk_number(value: Any, kind: inspect.IntType | inspect.FloatType, path: Path) -> Iterator[Defect]:
    whole = isinstance(kind, inspect.IntType)
    bounds = [
        (kind.ge, sentence(" of at least {limit:g}", limit=kind.ge), lambda limit: value >= limit),
        (kind.gt, sentence(" greater than {limit:g}", limit=kind.gt), lambda limit: value > limit),
        (kind.le, sentence(" of at most {limit:g}", limit=kind.le), lambda limit: value <= limit),
    ]
    given = [(limit, words, holds) for limit, words, holds in bounds if limit is not None]
    expected = sentence("a whole number") if whole else sentence("a number")
    for place, (_, words, _) in enumerate(given):
        expected = joined("", (expected, sentence(" and") if place else NOTHING, words))
    if kind.ge is not None and kind.ge == kind.le:
        expected = verbatim(f"{kind.ge:g}")
    accepted = int if whole else (int, float)
    sound = (
        isinstance(value, accepted)
        and not isinstance(value, bool)
        and (whole or _is_finite(value))
        and all(holds(limit) for limit, _, holds in given)
    )
    if not sound:
        example = given[0][0] + (1 if kind.gt is not None and kind.ge is None else 0) if given else 1
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


def _mismatch(path: Path, expected: Sentence, value: Any, example: str) -> Defect:
    return defect(
        path, "otherwise", expected=expected, found=_found(value), name=_name(path), example=example
    )


def _name(path: Path) -> str:
    """The last key of the path; positions in arrays have none of their own."""
    return next(str(part) for part in reversed(path) if isinstance(part, str))


def _example(path: Path, kind: inspect.Type) -> Sentence:
    """How to write the value at ``path``, as a line of the file or in words."""
    kind, description = _unwrap(kind)
    key = _name(path)
    header = ".".join(part for part in path if isinstance(part, str))
    match kind:
        case inspect.VarTupleType():
            inner, _ = _unwrap(kind.item_type)
            is_tables = isinstance(inner, inspect.StructType)
            if is_tables:
                return sentence("a table headed {header}", header=f"[[{header}]]")
            return verbatim(f'{key} = ["…"]')
        case inspect.StructType():
            keys = [field.encode_name for field in kind.fields if field.required]
            return sentence(
                "a table headed {header} with {keys}",
                header=f"[{header}]",
                keys=", ".join(keys) or sentence("one of its keys"),
            )
        case inspect.EnumType():
            return verbatim(f'{key} = "{next(iter(kind.cls)).value}"')
        case inspect.IntType():
            return verbatim(f"{key} = {kind.ge or 0}")
        case inspect.FloatType():
            return verbatim(f"{key} = 1.0")
        case _:
            text = verbatim(f'{key} = "…"')
            return (
                joined("", (text, verbatim(" ("), Sentence(description), verbatim(")")))
                if description
                else text
            )


def _unknown(path: Path, key: str, known: list[str]) -> Defect:
    close = difflib.get_close_matches(key.replace("_", "-").lower(), known, n=1)
    if close:
        return defect(path, "unknown-perhaps", key=key, close=close[0])
    names = ", ".join(known)
    return defect(path, "unknown", key=key, names=names)


def _found(value: Any) -> Sentence:
    match value:
        case bool():
            return verbatim("true" if value else "false")
        case str():
            short = value if len(value) <= 40 else value[:39] + "…"
            if not value.strip():
                return sentence("blank text")
            return sentence('the text "{text}"', text=short.replace("\n", " "))
        case int():
            if abs(value) >= 10**15:
                return sentence("a very large number")
            return sentence("the whole number {value}", value=value)
        case float():
            return sentence("the number {value}", value=value)
        case dict():
            return sentence("a table")
        case list():
            return sentence("an array")
        case _:
            return sentence("a date or time")
