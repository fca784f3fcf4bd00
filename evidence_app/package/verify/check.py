"""Checks a package from the outside in, trusting nothing in it.

:func:`verify` makes every check of :data:`result.CHECK_NAMES`, those that wait for
every byte to be read last. A check that needs another which does not hold is not
made and says so. A hostile package ends as a failing check, never as an exception:
only a package that cannot be read at all raises.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from evidence_app.errors import EvidenceError
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.verify.case import Asked, Case, Defective, Unavailable, first_items
from evidence_app.package.verify.clocks import check_clocks
from evidence_app.package.verify.digests import Progress
from evidence_app.package.verify.files import check_archive, check_bag, check_checksums, check_nothing_extra
from evidence_app.package.verify.journal import check_conduct_of, check_journal_chain, check_originals
from evidence_app.package.verify.practice import check_practice
from evidence_app.package.verify.record import check_record
from evidence_app.package.verify.report import check_report
from evidence_app.package.verify.result import (
    FAILS,
    HOLDS,
    LABELS,
    OTHER_WORDING,
    WITHOUT_PICTURES,
    CheckResult,
    Facts,
    VerifyResult,
    conclude,
    fails,
    not_checked,
    said,
)
from evidence_app.package.verify.trust import check_key, check_seal, check_time_bracket
from evidence_app.package.zip.archive import Unreadable, open_archive
from evidence_app.sentence import sentence

Check = Callable[[Case], CheckResult]

# Each check, and the checks that must hold for it to mean anything.
_CHECKS: dict[str, tuple[Check, tuple[str, ...]]] = {
    "archive": (check_archive, ()),
    "bag": (check_bag, ("archive",)),
    "checksums": (check_checksums, ("archive",)),
    "nothing-extra": (check_nothing_extra, ("archive",)),
    "seal": (check_seal, ("archive",)),
    "key": (check_key, ("archive", "seal")),
    "journal-chain": (check_journal_chain, ("archive",)),
    "originals": (check_originals, ("archive", "checksums", "nothing-extra", "journal-chain")),
    "conduct": (check_conduct_of, ("archive", "journal-chain")),
    "record": (check_record, ("archive", "journal-chain")),
    "report": (check_report, ("archive", "journal-chain", "originals")),
    "clocks": (check_clocks, ("archive", "journal-chain")),
    "time-bracket": (check_time_bracket, ("archive", "seal", "journal-chain")),
    "practice": (check_practice, ("archive",)),
}
# Those that wait until every byte was read, in the order in which they depend on each other.
_OF_DIGESTS = ("checksums", "originals", "report", "clocks", "time-bracket")
_READING_LITTLE = ("clocks", "time-bracket")


def verify(
    path: str | Path,
    key_list: KeyList | None = None,
    time_authorities: bytes | None = None,
    progress: Progress | None = None,
    *,
    accept_practice: bool = False,
    received_at: datetime | None = None,
    compare_pictures: bool = True,
    other_wording: bool = False,
    step_lists: Mapping[tuple[str, str], str] | None = None,
    measure_again: bool = False,
) -> VerifyResult:
    """Check the package at ``path``, a ZIP file or an unpacked bag.

    ``key_list`` is the depot's, its signature checked when it was opened;
    ``time_authorities`` is PEM with the roots trusted for time tokens;
    ``received_at`` is when the desk got the package (with offset), as a bound
    of its own. ``progress`` is told (bytes, bytes altogether) while files are
    read; what it raises ends the checking. ``accept_practice`` lets practice
    material hold. Without ``compare_pictures``, which decodes every photo, only
    the words and sounds of the report are compared. With ``other_wording`` a summary or
    report that another version of the app worded passes when its facts are the journal's.
    ``step_lists`` gives the SHA-256 of the step list issued under an (id, version); a job by
    another one fails ``conduct``. With ``measure_again`` every photo is judged and measured again.

    Raises PackageError when there is no package that could be judged: missing,
    empty, no ZIP file, cut short, encrypted for transport, not readable, or
    changed meanwhile.
    """
    asked = Asked(
        key_list,
        time_authorities,
        received_at,
        accept_practice,
        compare_pictures,
        other_wording,
        step_lists,
        measure_again,
    )
    case = Case(open_archive(path), asked, progress)
    try:
        checks = _all_made(case)
        sound = checks["archive"].outcome == HOLDS
        facts = _facts(case) if sound else None
        altered = case.altered if sound else ()
    finally:
        case.end_digests()
    agreed = {WITHOUT_PICTURES} if not compare_pictures else set()
    agreed |= {OTHER_WORDING} if other_wording else set()
    made = tuple(checks[name] for name in _CHECKS)
    return conclude(str(path), made, facts, altered, frozenset(agreed))


def _all_made(case: Case) -> dict[str, CheckResult]:
    """Every check by name. What waits for the digests is made last, the rest meanwhile."""
    checks = {"archive": _made("archive", case, {})}
    if checks["archive"].outcome == HOLDS:
        case.begin_digests()
    for name in _CHECKS:
        if name not in (*checks, *_OF_DIGESTS):
            checks[name] = _made(name, case, checks)
    # These read so little that they need not wait; what they found counts if the originals
    # turn out to be what the journal names. Comparing pictures does read them all.
    early = _READING_LITTLE if case.asked.compare_pictures else ("report", *_READING_LITTLE)
    ahead = {name: _made(name, case, checks) for name in early}
    for name in _OF_DIGESTS:
        sound = "originals" in checks and checks["originals"].outcome == HOLDS
        made = ahead.get(name) if sound else None
        checks[name] = made or _made(name, case, checks)
    return checks


def _made(name: str, case: Case, before: dict[str, CheckResult]) -> CheckResult:
    """One check, unless something known from ``before`` that it needs does not hold."""
    check, needs = _CHECKS[name]
    for need in needs:
        if need in before and before[need].outcome != HOLDS:
            if before[need].outcome == FAILS:
                return not_checked(name, sentence("because the check “{check}” failed", check=LABELS[need]))
            return not_checked(name, sentence("because “{check}” could not be checked", check=LABELS[need]))
    try:
        return check(case)
    except Unreadable:
        raise
    except Unavailable as error:
        return not_checked(name, error.why)
    except Defective as error:
        return fails(
            name, sentence("a part that it needs is not as it must be"), first_items(error.problems)
        )
    except EvidenceError as error:
        return fails(name, sentence("a part that it needs cannot be used"), said(error))
    except Exception as error:
        # A hostile package may break what no check foresaw; it must not pass for that.
        return fails(
            name,
            sentence(
                "the check could not be finished ({kind}: {error})", kind=type(error).__name__, error=error
            ),
        )


def _facts(case: Case) -> Facts | None:
    seal = case.seal
    if seal is None:
        return None
    return Facts(
        job=seal.job,
        claim=seal.claim,
        serial=seal.serial,
        outcome=seal.outcome,
        practice=seal.practice,
        app=seal.app,
        step_list=f"{seal.step_list.id} {seal.step_list.version}",
        opened_at=seal.opened_at,
        closed_at=seal.closed_at,
        events=seal.events,
        fingerprint=seal.fingerprint,
        device_key_sha256=seal.device_key_sha256,
    )
