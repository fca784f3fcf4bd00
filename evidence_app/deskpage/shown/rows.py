"""The worklist's address, its columns and its rows as people read them."""

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

import msgspec
from msgspec import Struct

from evidence_app.desk.register import DECISIONS
from evidence_app.desk.wanted import Wanted
from evidence_app.desk.worklist import WAITING
from evidence_app.errors import EvidenceError
from evidence_app.job.summary.event_sentences import OUTCOMES, outcome_words
from evidence_app.language import say
from evidence_app.sentence import sentence, sentences_beside

LENGTH = 120
"""Rows that one answer holds."""

_WORDS = sentences_beside(__file__)
CLASSES = _WORDS["classes"]
WHY = _WORDS["why"]
COLUMNS = _WORDS["columns"]
_TEXTS = ("anything", "claim", "serial", "technician", "fingerprint", "step_list", "text")
_DAY = re.compile(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")


class ListAsked(Struct, frozen=True):
    """What an address asks for; ``package`` is the one whose detail stands beside the list."""

    wanted: Wanted
    sort: str = "id"
    descending: bool = True
    start: int = 0
    package: int | None = None

    def address(self, **other: Any) -> str:
        """The query of this with something else in it, as a link takes it."""
        named = {k: v for k, v in msgspec.structs.asdict(self.wanted).items() if v is not None}
        if "received" in named:
            named["received"] = ",".join(map(str, named["received"]))
        named |= {"sort": self.sort, "down": int(self.descending), "package": self.package}
        named |= other
        return urlencode({k: v for k, v in named.items() if v not in (None, "")})


def asked_of(query: Mapping[str, str]) -> ListAsked:
    """What an address asks for. Raises EvidenceError for a day that is none and the like."""
    texts = {name: query[name][:200] for name in _TEXTS if query.get(name, "").strip()}
    for name in ("since", "until"):
        if day := query.get(name, "").strip():
            if not _DAY.fullmatch(day):
                raise EvidenceError(
                    sentence("“{text}” is not a date", text=day[:40]),
                    remedy=sentence("use year-month-day, for example 2026-03-02"),
                )
            texts[name] = day
    for name, known in (
        ("waiting", WAITING),
        ("outcome", OUTCOMES),
        ("decision", (*DECISIONS, "none")),
        ("fail_class", WHY),
    ):
        if query.get(name) in known:
            texts[name] = query[name]
    received = re.fullmatch(r"\d{1,9}(,\d{1,9})*", query.get("received", ""))
    numbers = tuple(map(int, received[0].split(","))) if received else None
    return ListAsked(
        Wanted(**texts, received=numbers),
        query["sort"] if query.get("sort") in COLUMNS else "id",
        query.get("down", "1") != "0",
        _number(query.get("start")) or 0,
        _number(query.get("package")),
    )


class Row(Struct, frozen=True):
    """``cells`` in the order of COLUMNS; ``troubled`` are the columns to look at."""

    package: int
    cells: tuple[str, ...]
    troubled: frozenset[str]


def row_shown(row: dict[str, Any]) -> Row:
    outcome, decision = row["outcome"], row["decision"]
    why = row["fail_class"]
    before = str(row["photos_reused"]) if row["photos_reused"] else ""
    if row["conflict"]:
        before = " ".join((before, say("same job"))).strip()
    cells = {
        "id": str(row["id"]),
        "claim": row["claim"] or row["name"] or "–",
        "serial": row["serial"] or "–",
        "technician": row["technician"] or "–",
        "step_list": row["step_list"] or "–",
        "outcome": say(outcome_words(outcome)),
        "closed_utc": (row["closed_utc"] or "–")[:16].replace("T", " "),
        "fail_class": say(WHY[why]) if why else say("hold"),
        "photos_reused": before,
        "decision": say(DECISIONS.get(decision, decision)) if decision else "",
    }
    troubled = {name for name, bad in (("fail_class", why), ("photos_reused", before)) if bad}
    if outcome == "stopped" and not row["review"]:
        troubled.add("outcome")
    return Row(row["id"], tuple(cells[name] for name in COLUMNS), frozenset(troubled))


def _number(text: str | None) -> int | None:
    return int(text) if text and re.fullmatch(r"\d{1,9}", text) else None
