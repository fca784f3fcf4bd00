"""What checking found, said in the reader's language: the register keeps the templates and values
of each sentence beside its English text. A result from before that is said as it was kept."""

from collections.abc import Iterable
from typing import Any

from evidence_app.package.verify.result import CheckResult
from evidence_app.sentence import Sentence, from_wire, to_wire


def kept(overall: Sentence, checks: Iterable[CheckResult]) -> dict[str, Any]:
    """For the register's JSON of a result, under the key ``worded``."""
    told = [{"sentence": to_wire(c.sentence), "items": [to_wire(item) for item in c.items]} for c in checks]
    return {"overall": to_wire(overall), "checks": told}


def overall_of(result: dict[str, Any]) -> Sentence | str:
    """The overall line of a result, a row of the register with its ``json`` opened."""
    worded = result["json"].get("worded")
    return from_wire(worded["overall"]) if worded else result["overall"]


def checks_of(found: dict[str, Any]) -> list[dict[str, Any]]:
    """The checks of a result's JSON, their sentences and items to be said."""
    checks = found.get("checks", [])
    told = found.get("worded", {}).get("checks", checks)
    return [
        {**check, "sentence": _again(words["sentence"]), "items": [_again(item) for item in words["items"]]}
        for check, words in zip(checks, told, strict=True)
    ]


def _again(words: dict[str, Any] | str) -> Sentence | str:
    return from_wire(words) if isinstance(words, dict) else words
