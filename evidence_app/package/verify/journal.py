"""The checks of the job: journal-chain, originals, conduct, record.

The journal is read line by line without trust; what follows from it is made
again and compared with what the package holds.
"""

from __future__ import annotations

import hashlib

from evidence_app import __version__
from evidence_app.job.conduct.check import check_conduct
from evidence_app.job.summary.model import Summary
from evidence_app.job.summary.summarise import plain_values, to_bytes
from evidence_app.job.vocabulary import FORMAT as JOURNAL_FORMAT
from evidence_app.package import layout
from evidence_app.package.verify.case import (
    Case,
    Defective,
    Unavailable,
    first_items,
    other_version,
)
from evidence_app.package.verify.journal_lines import content, plainly_canonical
from evidence_app.package.verify.result import CheckResult, fails, holds, not_checked
from evidence_app.record.event import GENESIS, Event

_NOT_FROM_EVENTS = (layout.JOURNAL, layout.RECORD, layout.REPORT)


def check_journal_chain(case: Case) -> CheckResult:
    """Does each event's hash follow from the event before it and its own bytes?"""
    name = "journal-chain"
    try:
        events = case.events
    except (Defective, Unavailable) as error:
        return fails(name, "the journal cannot be read", first_items(_problems_of(error)))
    problems = _chain_problems(case.lines, events) + _frame_problems(events)
    if problems:
        return fails(name, "the journal is not one unbroken chain", first_items(problems))
    return holds(name, f"{len(events)} events in one unbroken chain, from opening to closing")


def check_originals(case: Case) -> CheckResult:
    """Is each photo, note and derived file named in the journal there, and no other?"""
    try:
        places = case.places
    except Defective as error:
        return fails("originals", "the journal does not say which originals it means",
                     first_items(error.problems))  # fmt: skip
    problems = []
    for place in places:
        named = f"{place.path}: named by event {place.sequence}"
        if not case.has(place.path):
            problems.append(f"{named}, is missing")
        elif case.archive.sizes[place.path] != place.bytes:
            size = case.archive.sizes[place.path]
            problems.append(f"{named} with {place.bytes} bytes, has {size}")
        elif case.digests[place.path] != place.sha256:
            found = case.digests[place.path]
            problems.append(f"{named} with SHA-256 {place.sha256}, has {found}")
    named = {place.path for place in places}
    problems += [
        f"{path}: no event of the journal names it"
        for path in case.payload
        if path not in named and path not in _NOT_FROM_EVENTS
    ]
    if problems:
        return fails("originals", "the files are not those that the journal names",
                     first_items(problems))  # fmt: skip
    kinds = ", ".join(
        f"{count} {word if count == 1 else word + 's'}"
        for role, word in (("photo", "photo"), ("voice", "note"), ("markup", "drawing"))
        for count in [sum(place.role == role for place in places)]
    )
    return holds("originals", f"the journal names {kinds}; each is there and no other")


def check_conduct_of(case: Case) -> CheckResult:
    """Was every checkpoint met or the stop rule followed, every hold long enough?"""
    breaches = check_conduct(case.step_list, case.events)
    if breaches:
        return fails("conduct", "the journal does not obey its step list",
                     first_items([str(breach.sentence) for breach in breaches]))  # fmt: skip
    steps = f"step list {case.step_list.id} {case.step_list.version}"
    return holds("conduct", f"the journal obeys {steps} from beginning to end")


def check_record(case: Case) -> CheckResult:
    """Is record.json, byte for byte, what the journal gives?"""
    if not case.has(layout.RECORD):
        return fails("record", "the summary is missing", (f"{layout.RECORD}: is missing",))
    found = case.read(layout.RECORD, layout.MAX_TEXT_BYTES)
    expected = _written(case.summary)
    if found == expected:
        return holds("record", "record.json is exactly what the journal gives")
    if case.seal and case.seal.app != __version__:
        return not_checked("record", other_version(case.seal.app))
    at = next((i for i, (a, b) in enumerate(zip(found, expected, strict=False)) if a != b),
              min(len(found), len(expected)))  # fmt: skip
    sentence = "record.json is not what the journal gives"
    return fails("record", sentence, (f"{layout.RECORD}: differs from byte {at} on",))


def _written(summary: Summary) -> bytes:
    """The summary's canonical JSON, by the quick way where it is beyond doubt."""
    return plainly_canonical(plain_values(summary)) or to_bytes(summary)


def _problems_of(error: Defective | Unavailable) -> tuple[str, ...]:
    return error.problems if isinstance(error, Defective) else (str(error),)


def _chain_problems(lines: list[bytes], events: tuple[Event, ...]) -> list[str]:
    """Hashes are recomputed over the very bytes of the lines, not over what was parsed."""
    problems = []
    previous = GENESIS
    for place, (line, event) in enumerate(zip(lines, events, strict=True), start=1):
        if event.sequence != place:
            problems.append(f"event {event.sequence}: stands at place {place} of the journal")
        if hashlib.sha256(previous.encode("ascii") + content(line)).hexdigest() != event.hash:
            problems.append(
                f"event {event.sequence} ({event.kind}): its hash does not follow from the event "
                "before it and its own content"
            )
        previous = event.hash
    return problems


def _frame_problems(events: tuple[Event, ...]) -> list[str]:
    problems = []
    first, last = events[0], events[-1]
    if first.kind != "job-opened":
        problems.append(f"event {first.sequence} ({first.kind}): a job begins with job-opened")
    elif first.body.get("format") != JOURNAL_FORMAT:
        problems.append(
            f"event {first.sequence}: the journal has format {first.body.get('format')!r}, this "
            f"app knows {JOURNAL_FORMAT}; check it with the version of the app that made it"
        )
    if last.kind != "job-closed":
        problems.append(f"event {last.sequence} ({last.kind}): a sealed job ends with job-closed")
    return problems
