"""One package in plain words: what holds, what fails, what could not be checked, and more."""

from collections.abc import Iterator
from typing import Any

from msgspec import Struct

from evidence_app.desk.register import DECISIONS
from evidence_app.desk.search import Entry
from evidence_app.desk.telling import compared, happened, remarkable
from evidence_app.desk.worded import checks_of, overall_of
from evidence_app.deskpage.shown.taken import before_words, shown_before
from evidence_app.job.rules.owed import OWED_WORDS
from evidence_app.job.summary.event_sentences import outcome_words
from evidence_app.job.summary.model import Requirement, Summary
from evidence_app.job.summary.model_step import NoteRecord
from evidence_app.language import say
from evidence_app.package.report.words import bare, when
from evidence_app.package.verify.result import FAILS, HOLDS, LABELS, NOT_CHECKED, OUTCOME_WORDS
from evidence_app.sentence import Sentence
from evidence_app.steplist.model import FINDINGS


class CheckTold(Struct, frozen=True):
    name: str
    sentence: str
    items: tuple[str, ...]


class AlteredShown(Struct, frozen=True):
    """A file whose content is another; checksums in groups of eight characters."""

    path: str
    step: str
    expected: str
    found: str


class PackageShown(Struct, frozen=True):
    """``verdict`` is the overall line, ``good`` whether nothing fails; ``facts`` are
    (name, value); ``unsearched``, ``conflicts`` and ``history`` are sentences."""

    title: str
    verdict: str
    good: bool
    practice: bool
    checked: str
    altered: tuple[AlteredShown, ...]
    failing: tuple[CheckTold, ...]
    unchecked: tuple[CheckTold, ...]
    holding: tuple[CheckTold, ...]
    sealed_by: str
    key: str
    facts: tuple[tuple[str, str], ...]
    reused_head: str
    shown_before: bool
    unsearched: tuple[str, ...]
    conflicts: tuple[str, ...]
    decision: str
    history: tuple[str, ...]
    stopped: bool


def package_shown(entry: Entry) -> PackageShown:
    package, latest = entry.package, entry.results[-1]
    found = latest["json"]
    checks = checks_of(found)
    key = next((c for c in checks if c["name"] == "key"), None)
    before = shown_before(entry.reused)
    return PackageShown(
        title=say(
            "Package {number}: claim {claim}, serial {serial}",
            number=package["id"],
            claim=package["claim"] or "–",
            serial=package["serial"] or "–",
        ),
        verdict=say(overall_of(latest)),
        good=latest["exit_status"] == 0,
        practice=bool(package["practice"]),
        checked=_checked(latest),
        altered=tuple(_altered(each) for each in found.get("altered", [])),
        failing=_checks(checks, FAILS),
        unchecked=_checks(checks, NOT_CHECKED),
        holding=_checks(checks, HOLDS),
        sealed_by=say(key["sentence"]) if key else say("Who sealed it could not be read."),
        key=grouped(package["device_key_sha256"] or ""),
        facts=tuple(_facts(package)),
        reused_head=before_words(before) if before else "",
        shown_before=before > 0,
        unsearched=tuple(f"{each['path']}: {say(each['sentence'])}" for each in entry.unsearched),
        conflicts=tuple(say(each["sentence"]) for each in entry.conflicts),
        decision=_decided(package),
        history=tuple(f"{when(e['at'])}  ·  {e['by']}  ·  {happened(e)}" for e in entry.events),
        stopped=package["outcome"] == "stopped",
    )


def lines_of(entry: Entry) -> Iterator[str]:
    """The package as plain lines, in the words of the desk's page."""
    shown = package_shown(entry)
    yield shown.title
    yield f"  {shown.verdict}"
    if shown.practice:
        yield "  " + say("practice, not evidence")
    yield from (f"  {name + ':':<20} {value}" for name, value in shown.facts)
    yield f"  {shown.checked}"
    told = ((FAILS, shown.failing), (NOT_CHECKED, shown.unchecked), (HOLDS, shown.holding))
    for outcome, check in ((outcome, check) for outcome, checks in told for check in checks):
        yield f"    {say(OUTCOME_WORDS[outcome]):<14} {check.name}: {check.sentence}"
        yield from (f"      - {item}" for item in check.items if outcome == FAILS)
    for file in shown.altered:
        yield "    " + say("altered: {path}", path=file.path) + f" ({file.step})"
        yield "      " + say("expected {digest}", digest=file.expected)
        yield "      " + say("found    {digest}", digest=file.found)
    yield from (f"  {say(each['sentence'])}" for each in entry.answers)
    yield from remarkable(entry.conflicts, (*entry.reused, *entry.unsearched))
    yield "  " + say("history:")
    yield from (f"    {line}" for line in shown.history)


def finding_words(finding: str | None) -> str:
    """A finding as it is read; one that is none of the three as it is written."""
    return say(FINDINGS[finding]) if finding in FINDINGS else finding or "–"


def heard_words(note: NoteRecord) -> str:
    """What a spoken note says, as far as the record has it."""
    if note.audio is None:
        return say("There is no recording: {why}", why=note.lost_reason or "–")
    if not note.transcript:
        return say("There is no transcript.")
    if note.transcript.corrected:
        return say("Corrected by a person: {text}", text=note.transcript.corrected)
    return say("By machine: {text}", text=note.transcript.text)


def grouped(digest: str) -> str:
    """A checksum in groups of eight characters, so that two can be compared by eye."""
    return " ".join(digest[at : at + 8] for at in range(0, len(digest), 8))


class OwedShown(Struct, frozen=True):
    """What the journal answers for: ``head`` counts, ``missing`` and ``kept`` by name,
    ``clocks`` every anomaly."""

    outcome: str
    head: str
    missing: tuple[str, ...]
    kept: tuple[str, ...]
    clocks: tuple[str, ...]


def shown_of(summary: Summary) -> OwedShown:
    every: list[tuple[str | None, Requirement]]
    every = [(None, owed) for owed in summary.before_work]
    every += [(step.title, owed) for step in summary.steps for owed in step.owed]
    every += [(None, owed) for owed in (summary.stop.owed if summary.stop else ())]
    answered = sum(owed.state in ("shown", "kept") for _, owed in every)
    return OwedShown(
        outcome=say(summary.outcome.sentence),
        head=say("{shown} of {owed} required items are recorded.", shown=answered, owed=len(every)),
        missing=tuple(_owed(lack.step_title, lack.kind, lack.name) for lack in summary.owed_but_missing),
        kept=tuple(_owed(title, owed.kind, owed.name) for title, owed in every if owed.state == "kept"),
        clocks=tuple(f"{say(note.sentence)} ({when(note.wall)})" for note in summary.clock_notes),
    )


def compare_words(entry: Entry, typed: str) -> tuple[bool, str]:
    """Whether what was typed or scanned is the serial or the claim number of the package.

    Blanks around it and upper or lower case make no difference.
    """
    typed = typed.strip()
    if compared(entry, "serial", typed)[0]:
        return True, say("{typed} is the serial number in the package.", typed=typed)
    if compared(entry, "claim", typed)[0]:
        return True, say("{typed} is the claim number in the package.", typed=typed)
    return False, say(
        "{typed} is neither: the package says serial {serial}, claim {claim}.",
        typed=typed,
        serial=entry.package["serial"] or "–",
        claim=entry.package["claim"] or "–",
    )


def _checks(checks: list[dict[str, Any]], outcome: str) -> tuple[CheckTold, ...]:
    return tuple(_check(c["name"], c) for c in checks if c["outcome"] == outcome)


def _check(name: str, check: dict[str, Any]) -> CheckTold:
    # Altered files stand on their own, with both checksums; they are not listed twice.
    items = () if name == "checksums" else tuple(say(item) for item in check["items"])
    return CheckTold(say(LABELS[name]) if name in LABELS else name, say(check["sentence"]), items)


def _altered(file: dict[str, Any]) -> AlteredShown:
    return AlteredShown(
        file["path"],
        say("step {step}", step=file["step"]) if file["step"] else say("belongs to no step"),
        grouped(file["expected"]),
        grouped(file["found"]) if file["found"] else say("no such file"),
    )


def _checked(result: dict[str, Any]) -> str:
    with_list = (
        say("with the key list of {name}", name=result["key_list"])
        if result["key_list"]
        else say("without a key list")
    )
    return say(
        "Checked {when} by version {app}, {list}.",
        when=when(result["at"]),
        app=result["app"],
        list=with_list,
    )


def _facts(package: dict[str, Any]):
    rows = (
        (say("Outcome"), package["outcome"] and say(outcome_words(package["outcome"]))),
        (say("Stopped because"), package["stop_reason"]),
        (say("Disposition"), package["disposition"]),
        (say("Technician"), package["technician"]),
        (say("Model"), " ".join(x for x in (package["model"], package["variant"]) if x)),
        (say("Step list"), " ".join(x for x in (package["step_list"], package["step_list_version"]) if x)),
        (say("Opened"), when(package["opened_at"]) if package["opened_at"] else None),
        (say("Closed"), when(package["closed_at"]) if package["closed_at"] else None),
        (say("Fingerprint"), package["fingerprint"]),
        (say("File"), f"{package['name']}, {package['bytes'] / 1e6:.1f} MB"),
    )
    return ((name, value) for name, value in rows if value)


def _decided(package: dict[str, Any]) -> str:
    if package["decision"] is None:
        return say("No decision yet.")
    head = say(
        "Decided: {decision}, {when}, by {name}.",
        decision=say(DECISIONS.get(package["decision"], package["decision"])),
        when=when(package["decided_at"]),
        name=package["decided_by"],
    )
    reason = package["decision_reason"]
    return head + " " + say("Reason: {reason}", reason=reason) if reason else head


def _owed(title: str | None, kind: str, name: str | Sentence) -> str:
    head = f"{bare(title)}: " if title else ""
    return head + say(OWED_WORDS.get(kind, kind)) + f", {bare(name)}"
