"""The check of the summary: record.

A summary of this app's own format is made again and compared byte for byte. One of
an earlier format is worded in a way that this app no longer writes; its facts are still
compared with the journal. What version of the app the seal names plays no part.
"""

from collections.abc import Iterator
from typing import Any

import msgspec

from evidence_app import limits
from evidence_app.job.summary.model import FORMAT, Summary
from evidence_app.job.summary.summarise import plain_values, to_bytes
from evidence_app.language import mark
from evidence_app.package import layout
from evidence_app.package.verify import result
from evidence_app.package.verify.case import Case, is_earlier, other_wording, unseen
from evidence_app.package.verify.journal_lines import plainly_canonical
from evidence_app.package.zip.names import shown
from evidence_app.sentence import Sentence, sentence

_FALSE = "record.json is not what the journal gives"

# What a summary of any format must say, and what is words and no fact.
_ALWAYS = (
    "identity/claim", "identity/serial", "identity/job", "identity/practice", "outcome/outcome",
)  # fmt: skip
_WORDS = frozenset({"sentence", "format", "name"})


def check_record(case: Case) -> result.CheckResult:
    """Does record.json say what the journal gives?"""
    if (absent := unseen(case, "record", layout.RECORD, mark("the summary is missing"))) is not None:
        return absent
    found = case.read(layout.RECORD, limits.TEXT_BYTES)
    expected = _written(case.summary)
    if found == expected:
        return result.holds("record", "record.json is exactly what the journal gives")
    at = next((i for i, (a, b) in enumerate(zip(found, expected, strict=False)) if a != b),
              min(len(found), len(expected)))  # fmt: skip
    differs = sentence("{file}: differs from byte {at} on", file=layout.RECORD, at=at)
    try:
        told = msgspec.json.decode(found)
        form = told["format"]
    except (msgspec.MsgspecError, UnicodeError, RecursionError, KeyError, TypeError):
        return result.fails("record", _FALSE, [differs])
    if form == FORMAT:
        return result.fails("record", _FALSE, [differs])
    if not (isinstance(form, str) and is_earlier(form, FORMAT)):
        unknown = sentence("{file}: has the format {form}, this app knows {known}",
                           file=layout.RECORD, form=shown(str(form)), known=FORMAT)  # fmt: skip
        return result.fails("record", "the summary has a format that is not known", [unknown])
    given = plain_values(case.summary)
    if problems := list(_contradictions(told, given)):
        return result.fails("record", _FALSE, problems)
    if _is_part_of(told, given):
        return result.holds(
            "record", "record.json says what the journal gives, as {form} says it", form=form
        )
    return result.not_checked("record", other_wording(shown(form), FORMAT), result.OTHER_WORDING)


def _written(summary: Summary) -> bytes:
    """The summary's canonical JSON, by the quick way where it is beyond doubt."""
    return plainly_canonical(plain_values(summary)) or to_bytes(summary)


def _is_part_of(told: Any, given: Any) -> bool:
    """Whether an earlier format says, word for word, no more than what is said today."""
    now = dict(_values("", given, frozenset({"format"})))
    return all(path in now and now[path] == each
               for path, each in _values("", told, frozenset({"format"})))  # fmt: skip


def _contradictions(told: Any, given: Any) -> Iterator[Sentence]:
    """Facts that a summary of another format tells otherwise, or that it must tell and does not."""
    told, given = dict(_values("", told, _WORDS)), dict(_values("", given, _WORDS))
    for path in _ALWAYS:
        if path not in told:
            yield sentence("{file}: does not say {fact}", file=layout.RECORD, fact=path)
    for path in told.keys() & given.keys():
        if told[path] != given[path]:
            yield sentence(
                "{file}: says {fact} {told}, the journal gives {given}",
                file=layout.RECORD,
                fact=shown(path),
                told=shown(str(told[path])),
                given=shown(str(given[path])),
            )


def _values(path: str, value: Any, but: frozenset[str]) -> Iterator[tuple[str, Any]]:
    match value:
        case dict():
            for name, each in value.items():
                if name not in but:
                    yield from _values(f"{path}/{name}".lstrip("/"), each, but)
        case list():
            for place, each in enumerate(value):
                yield from _values(f"{path}/{place}", each, but)
        case _:
            yield path, value
