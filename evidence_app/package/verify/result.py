"""What checking a package found, and how it is said.

Three outcomes and no grades: a check ``holds``, ``fails`` or was ``not
checked``, and the sentence beside it says why. Nothing here says that a
package is true; it says what was checked.
"""

from collections.abc import Callable, Iterable
from typing import Any, Final, Literal

import msgspec
from msgspec import Struct

from evidence_app import limits
from evidence_app.errors import EvidenceError
from evidence_app.job.summary.event_sentences import outcome_words
from evidence_app.package.zip.names import printable
from evidence_app.sentence import Sentence, joined, sentence, sentences_beside, verbatim

HOLDS: Final = "holds"
FAILS: Final = "fails"
NOT_CHECKED: Final = "not checked"
Outcome = Literal["holds", "fails", "not checked"]
OUTCOME_WORDS = {HOLDS: sentence("holds"), FAILS: sentence("fails"), NOT_CHECKED: sentence("not checked")}

# What each check is called wherever people read it: here, at the desk, on the browser page;
# in the order in which they are shown.
_WORDS = sentences_beside(__file__)
LABELS: dict[str, Sentence] = _WORDS["labels"]
CHECK_NAMES = tuple(LABELS)

# What a failure of each check means for somebody who relies on the package.
MEANINGS: dict[str, Sentence] = _WORDS["meanings"]

# Answers about a key that are not one: who reads the overall line must see which it is.
REVOKED_BEFORE, REVOKED_SINCE, KEY_UNKNOWN = "revoked-before", "revoked-since", "unknown-key"
OTHER_OWNER, HANDED_OVER_WRONGLY = "other-owner", "handed-over-wrongly"
MEANINGS_BY_CODE: dict[str, Sentence] = _WORDS["meanings-by-code"]

# Why a record or report was not compared whole.
OTHER_WORDING, WITHOUT_PICTURES, WITHHELD = "other-wording", "without-pictures", "withheld"

# Without these two nobody has compared what people read with what the journal says.
_MUST_BE_MADE = ("record", "report")

_WIDTH = max(map(len, CHECK_NAMES)) + 2


class CheckResult(Struct, frozen=True):
    """One check. ``items`` are what it found, one line each: for a failure the
    file or event of every defect, otherwise things worth showing. ``code`` tells apart
    what one check can fail for; empty where the name says it all."""

    name: str
    outcome: Outcome
    sentence: Sentence
    items: tuple[Sentence, ...] = ()
    code: str = ""

    @property
    def label(self) -> Sentence:
        """What the check is called in front of people."""
        return LABELS[self.name]


class AlteredFile(Struct, frozen=True):
    """A file whose content is not what was sealed. ``found`` is None when the
    file is missing; ``step`` is the id of the step it belongs to, or None."""

    path: str
    step: str | None
    expected: str
    found: str | None


class PackageFacts(Struct, frozen=True):
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
    """The result for one package; ``exit_status`` is 0 when nothing fails, else 1. ``withheld``
    are the files that a disclosed copy declares to leave out; a whole package has none. ``photos``
    are the SHA-256 of its photos, in the order of their names."""

    package: str
    overall: Sentence
    exit_status: int
    checks: tuple[CheckResult, ...]
    facts: PackageFacts | None = None
    altered: tuple[AlteredFile, ...] = ()
    withheld: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()

    def check(self, name: str) -> CheckResult:
        """The check of that name; KeyError when there is none."""
        return {check.name: check for check in self.checks}[name]

    @property
    def failed(self) -> tuple[str, ...]:
        return tuple(check.name for check in self.checks if check.outcome == FAILS)


Items = Iterable[Sentence | str]


def holds(name: str, told: Sentence | str, items: Items = (), /, **values: object) -> CheckResult:
    """``told`` is a sentence, or the template of one whose {named} places ``values`` fill; so below."""
    return CheckResult(name, HOLDS, _as_sentence(told, values), _first(items))


def fails(
    name: str, told: Sentence | str, items: Items = (), code: str = "", /, **values: object
) -> CheckResult:
    return CheckResult(name, FAILS, _as_sentence(told, values), _first(items), code)


def not_checked(name: str, told: Sentence | str, code: str = "", /, **values: object) -> CheckResult:
    return CheckResult(name, NOT_CHECKED, _as_sentence(told, values), code=code)


def said(error: EvidenceError) -> tuple[Sentence, ...]:
    """What an error says, a sentence for each of its problems."""
    problems = getattr(error, "problems", None) or [error]
    return tuple(problem.told for problem in problems)


def conclude(
    package: str,
    checks: tuple[CheckResult, ...],
    facts: PackageFacts | None = None,
    altered: tuple[AlteredFile, ...] = (),
    agreed: frozenset[str] = frozenset(),
    withheld: tuple[str, ...] = (),
    reworded: int = 0,
) -> VerifyResult:
    """Join the checks into a result with its overall line and exit status.

    ``agreed`` holds the codes for which the person who checks agreed to do without the checks
    ``record`` and ``report``; when either was not made for another reason, it is no pass.
    """
    failed = [check for check in checks if check.outcome == FAILS]
    unmade = [
        check
        for check in checks
        if check.name in _MUST_BE_MADE and check.outcome == NOT_CHECKED and check.code not in agreed
    ]
    overall = _overall(checks, failed, unmade)
    if facts is not None and facts.practice and not failed:
        overall = sentence("Practice package, not evidence. {overall}", overall=overall)
    if reworded:
        overall = sentence(
            "Names are replaced by roles in its journal (entries: {count}). {overall}",
            count=reworded, overall=overall,
        )  # fmt: skip
    if withheld and facts is not None:
        overall = sentence(
            "Disclosed copy, not the whole package of seal {fingerprint}: {count} of its files are "
            "withheld, their checksums known. {overall}",
            fingerprint=facts.fingerprint,
            count=len(withheld),
            overall=overall,
        )
    return VerifyResult(package, overall, 1 if failed or unmade else 0, checks, facts, altered, withheld)


def lines(result: VerifyResult, say: Callable[[Sentence], str] = str) -> list[str]:
    """The result as plain text: the overall line, then each check and its items. ``say`` gives
    a sentence's text in the language wanted; names of checks are codes."""
    outcomes = {outcome: say(words) for outcome, words in OUTCOME_WORDS.items()}
    wide = max(12, *map(len, outcomes.values()))
    text = [result.package, f"  {say(result.overall)}"]
    if result.facts is not None:
        text.append(f"  {say(_facts_line(result.facts))}")
    for check in result.checks:
        told = f"{say(check.label)}: {say(check.sentence)}"
        text.append(f"  {outcomes[check.outcome]:<{wide}} {check.name:<{_WIDTH}}{told}")
        text.extend(f"{'':<{3 + wide + _WIDTH}}- {say(item)}" for item in check.items)
    return [printable(line) for line in text]


def to_json(result: VerifyResult) -> dict[str, Any]:
    """The result as plain dicts and lists, ready for ``json.dumps``; its texts are English."""
    return {
        "package": result.package,
        "overall": str(result.overall),
        "exit_status": result.exit_status,
        "checks": [
            {
                "name": check.name,
                "label": str(check.label),
                "outcome": check.outcome,
                "code": check.code,
                "sentence": str(check.sentence),
                "items": [str(item) for item in check.items],
            }
            for check in result.checks
        ],
        "facts": msgspec.to_builtins(result.facts),
        "altered": msgspec.to_builtins(result.altered),
        "withheld": list(result.withheld),
    }


def _first(items: Items) -> tuple[Sentence, ...]:
    """At most limits.LISTED_DEFECTS of them, and then how many more there are."""
    told = tuple(map(verbatim, items))
    more = len(told) - limits.LISTED_DEFECTS
    return told if more <= 0 else (*told[:-more], sentence("and {count} more", count=more))


def _as_sentence(told: Sentence | str, values: dict[str, object]) -> Sentence:
    return told if isinstance(told, Sentence) else Sentence(told, tuple(values.items()))


def _overall(
    checks: tuple[CheckResult, ...], failed: list[CheckResult], unmade: list[CheckResult]
) -> Sentence:
    if [check.name for check in failed] == ["practice"]:
        return sentence("Practice package, not evidence: {why}.", why=failed[0].sentence)
    if failed:
        reasons = [MEANINGS_BY_CODE.get(check.code, MEANINGS[check.name]) for check in failed]
        return sentence("Do not rely on this package: {reasons}.", reasons=joined("; ", reasons))
    if unmade:
        labels = joined(", ", [check.label for check in unmade])
        return sentence(
            "Do not rely on what this package shows: nothing was found to fail, but this could "
            "not be checked: {labels}.",
            labels=labels,
        )
    left = [check.label for check in checks if check.outcome == NOT_CHECKED]
    if not left:
        return sentence("All {count} checks hold.", count=len(checks))
    return sentence(
        "All {count} checks that were made hold; not checked: {labels}.",
        count=len(checks) - len(left),
        labels=joined(", ", left),
    )


def _facts_line(facts: PackageFacts) -> Sentence:
    return sentence(
        "It says: claim {claim}, serial {serial}, {outcome}, {opened} to {closed}, seal {fingerprint}",
        claim=facts.claim,
        serial=facts.serial,
        outcome=outcome_words(facts.outcome),
        opened=facts.opened_at,
        closed=facts.closed_at,
        fingerprint=facts.fingerprint,
    )
