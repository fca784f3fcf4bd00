"""Checks a package from the outside in, trusting nothing in it.

:func:`verify` makes every check of :data:`result.CHECK_NAMES`, those that wait for
every byte to be read last. A check that needs another which does not hold is not
made and says so. A hostile package ends as a failing check, never as an exception:
only a package that cannot be read at all raises.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from msgspec import structs

from evidence_app.errors import EvidenceError
from evidence_app.package import layout
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.verify import result as r
from evidence_app.package.verify.case import Asked, Case, Defective, Unavailable
from evidence_app.package.verify.clocks import check_clocks
from evidence_app.package.verify.digests import Progress
from evidence_app.package.verify.files import check_archive, check_bag, check_checksums, check_nothing_extra
from evidence_app.package.verify.journal import check_conduct_of, check_journal_chain, check_originals
from evidence_app.package.verify.practice import check_practice
from evidence_app.package.verify.record import check_record
from evidence_app.package.verify.report import check_report
from evidence_app.package.verify.trust import check_key, check_seal, check_time_bracket
from evidence_app.package.zip.archive import Elsewhere, Unreadable, open_archive

Check = Callable[[Case], r.CheckResult]

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
    path: str | Path | Elsewhere,
    key_list: KeyList | None = None,
    time_authorities: bytes | None = None,
    progress: Progress | None = None,
    **asked: Any,
) -> r.VerifyResult:
    """Check the package at ``path``, a ZIP file, wherever it is, or an unpacked bag.

    ``progress`` is told (bytes, bytes altogether) while files are read, and once more from the
    beginning while photos are measured again; what it raises ends the checking (while
    measuring, only what is no Exception). All else is a field of :class:`Asked`, which says
    what each means.

    Raises PackageError when there is no package that could be judged: missing,
    empty, no ZIP file, cut short, encrypted for transport, not readable, or
    changed meanwhile.
    """
    case = Case(open_archive(path), Asked(key_list, time_authorities, **asked), progress)
    try:
        checks = _all_made(case)
        sound = checks["archive"].outcome == r.HOLDS
        facts = _facts(case) if sound else None
        altered = case.altered if sound else ()
        withheld = tuple(case.withheld) if sound else ()
        reworded = len(case.reworded) if layout.JOURNAL in withheld else 0
        digests = sorted(case.digests.items()) if sound else ()
    finally:
        case.end_digests()
    wanted = case.asked
    agreed = {r.OTHER_WORDING: wanted.other_wording, r.WITHHELD: wanted.disclosed,
              r.WITHOUT_PICTURES: not wanted.compare_pictures}  # fmt: skip
    made = tuple(checks[name] for name in _CHECKS)
    result = r.conclude(
        str(path),
        made,
        facts,
        altered,
        frozenset(code for code in agreed if agreed[code]),
        withheld,
        reworded,
    )
    photos = tuple(sha256 for path, sha256 in digests if path.startswith("data/photos/"))
    return structs.replace(result, photos=photos)


def _all_made(case: Case) -> dict[str, r.CheckResult]:
    """Every check by name. What waits for the digests is made last, the rest meanwhile."""
    checks = {"archive": _made("archive", case, {})}
    if checks["archive"].outcome == r.HOLDS:
        case.begin_digests()
    for name in _CHECKS:
        if name not in (*checks, *_OF_DIGESTS):
            checks[name] = _made(name, case, checks)
    # These read so little that they need not wait; what they found counts if the originals
    # turn out to be what the journal names. Comparing pictures does read them all.
    early = _READING_LITTLE if case.asked.compare_pictures else ("report", *_READING_LITTLE)
    ahead = {name: _made(name, case, checks) for name in early}
    for name in _OF_DIGESTS:
        sound = "originals" in checks and checks["originals"].outcome == r.HOLDS
        made = ahead.get(name) if sound else None
        checks[name] = made or _made(name, case, checks)
    return checks


def _made(name: str, case: Case, before: dict[str, r.CheckResult]) -> r.CheckResult:
    """One check, unless something known from ``before`` that it needs does not hold."""
    check, needs = _CHECKS[name]
    for need in needs:
        if need in before and before[need].outcome != r.HOLDS:
            if before[need].outcome == r.FAILS:
                return r.not_checked(name, "because the check “{check}” failed", check=r.LABELS[need])
            return r.not_checked(name, "because “{check}” could not be checked", check=r.LABELS[need])
    try:
        return check(case)
    except Unreadable:
        raise
    except Unavailable as error:
        return r.not_checked(name, error.why)
    except Defective as error:
        return r.fails(name, "a part that it needs is not as it must be", error.problems)
    except EvidenceError as error:
        return r.fails(name, "a part that it needs cannot be used", r.said(error))
    except Exception as error:
        # A hostile package may break what no check foresaw; it must not pass for that.
        unfinished = {"kind": type(error).__name__, "error": error}
        return r.fails(name, "the check could not be finished ({kind}: {error})", **unfinished)


def _facts(case: Case) -> r.PackageFacts | None:
    seal = case.seal
    if seal is None:
        return None
    same = {name: getattr(seal, name) for name in r.PackageFacts.__struct_fields__ if name != "step_list"}
    return r.PackageFacts(**same, step_list=f"{seal.step_list.id} {seal.step_list.version}")
