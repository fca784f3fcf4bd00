"""What checking a package found, and how it is said.

Three outcomes and no grades: a check ``holds``, ``fails`` or was ``not
checked``, and the sentence beside it says why. Nothing here says that a
package is true; it says what was checked.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec
from msgspec import Struct

from evidence_app.package.zip.names import printable

HOLDS = "holds"
FAILS = "fails"
NOT_CHECKED = "not checked"
Outcome = Literal["holds", "fails", "not checked"]

# Every check, in the order in which it is shown.
CHECK_NAMES = (
    "archive",
    "bag",
    "checksums",
    "nothing-extra",
    "seal",
    "key",
    "journal-chain",
    "originals",
    "conduct",
    "record",
    "report",
    "clocks",
    "time-bracket",
    "practice",
)

# What a failure of each check means for somebody who relies on the package.
_MEANING = {
    "archive": "the package file is not built as the app builds it",
    "bag": "its list of files does not fit its files",
    "checksums": "a file was altered or is missing",
    "nothing-extra": "it holds files that do not belong to it",
    "seal": "its seal does not hold",
    "key": "the key that sealed it is not one to rely on",
    "journal-chain": "its journal is broken",
    "originals": "its photos and notes are not those of the journal",
    "conduct": "the repair did not follow its step list",
    "record": "its summary is not what the journal gives",
    "report": "its report is not what the journal gives",
    "clocks": "its times contradict each other",
    "time-bracket": "the proof of when it was made does not hold",
    "practice": "it is practice material",
}

_WIDTH = max(map(len, CHECK_NAMES)) + 2


class CheckResult(Struct, frozen=True):
    """One check. ``items`` are what it found, one line each: for a failure the
    file or event of every defect, otherwise things worth showing."""

    name: str
    outcome: Outcome
    sentence: str
    items: tuple[str, ...] = ()


class AlteredFile(Struct, frozen=True):
    """A file whose content is not what was sealed. ``found`` is None when the
    file is missing; ``step`` is the id of the step it belongs to, or None."""

    path: str
    step: str | None
    expected: str
    found: str | None


class Facts(Struct, frozen=True):
    """What the package says of itself, taken from the seal. Worth no more than
    the checks ``seal`` and ``key``: when either fails, anybody may have written it."""

    job: str
    claim: str
    serial: str
    outcome: str
    practice: bool
    app: str
    step_list: str
    opened_at: str
    closed_at: str
    events: int
    fingerprint: str
    device_key_sha256: str


class VerifyResult(Struct, frozen=True):
    """The result for one package; ``exit_status`` is 0 when nothing fails, else 1."""

    package: str
    overall: str
    exit_status: int
    checks: tuple[CheckResult, ...]
    facts: Facts | None = None
    altered: tuple[AlteredFile, ...] = ()

    def check(self, name: str) -> CheckResult:
        """The check of that name; KeyError when there is none."""
        for check in self.checks:
            if check.name == name:
                return check
        raise KeyError(name)

    @property
    def failed(self) -> tuple[str, ...]:
        return tuple(check.name for check in self.checks if check.outcome == FAILS)


def holds(name: str, sentence: str, items: tuple[str, ...] = ()) -> CheckResult:
    return CheckResult(name, HOLDS, sentence, items)


def fails(name: str, sentence: str, items: tuple[str, ...] = ()) -> CheckResult:
    return CheckResult(name, FAILS, sentence, items)


def not_checked(name: str, why: str) -> CheckResult:
    return CheckResult(name, NOT_CHECKED, why)


def conclude(
    package: str,
    checks: tuple[CheckResult, ...],
    facts: Facts | None = None,
    altered: tuple[AlteredFile, ...] = (),
) -> VerifyResult:
    """Join the checks into a result with its overall line and exit status."""
    failed = [check.name for check in checks if check.outcome == FAILS]
    overall = _overall(checks, failed)
    if facts is not None and facts.practice and not failed:
        overall = f"Practice package, not evidence. {overall}"
    return VerifyResult(package, overall, 1 if failed else 0, checks, facts, altered)


def lines(result: VerifyResult) -> list[str]:
    """The result as plain text: the overall line, then each check and its items."""
    text = [result.package, f"  {result.overall}"]
    if result.facts is not None:
        text.append(f"  {_facts_line(result.facts)}")
    for check in result.checks:
        text.append(f"  {check.outcome:<12} {check.name:<{_WIDTH}}{check.sentence}")
        text.extend(f"{'':<{15 + _WIDTH}}- {item}" for item in check.items)
    return [printable(line) for line in text]


def to_json(result: VerifyResult) -> dict[str, Any]:
    """The result as plain dicts and lists, ready for ``json.dumps``."""
    return msgspec.to_builtins(result)


def _overall(checks: tuple[CheckResult, ...], failed: list[str]) -> str:
    if failed == ["practice"]:
        return f"Practice package, not evidence: {_sentence_of(checks, 'practice')}"
    if failed:
        reasons = "; ".join(_MEANING[name] for name in failed)
        return f"Do not rely on this package: {reasons}."
    open_checks = [check.name for check in checks if check.outcome == NOT_CHECKED]
    if not open_checks:
        return f"All {len(checks)} checks hold."
    made = len(checks) - len(open_checks)
    return f"All {made} checks that were made hold; not checked: {', '.join(open_checks)}."


def _sentence_of(checks: tuple[CheckResult, ...], name: str) -> str:
    return next(check.sentence for check in checks if check.name == name)


def _facts_line(facts: Facts) -> str:
    return (
        f"It says: claim {facts.claim}, serial {facts.serial}, {facts.outcome}, "
        f"{facts.opened_at} to {facts.closed_at}, seal {facts.fingerprint}"
    )
