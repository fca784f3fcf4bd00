"""The checks of the job: journal-chain, originals, conduct, record.

The journal is read line by line without trust; what follows from it is made
again and compared with what the package holds.
"""

import hashlib
from collections import Counter

from evidence_app.job.conduct.check import check_conduct
from evidence_app.job.vocabulary import FORMAT as JOURNAL_FORMAT
from evidence_app.package import layout
from evidence_app.package.verify.case import Case, Defective, Unavailable, first_items
from evidence_app.package.verify.journal_lines import content
from evidence_app.package.verify.originals.media import media_problems
from evidence_app.package.verify.result import CheckResult, fails, holds
from evidence_app.package.zip.names import shown
from evidence_app.record.event import GENESIS, Event
from evidence_app.sentence import Sentence, counted, joined, sentence

_NOT_FROM_EVENTS = (layout.JOURNAL, layout.RECORD, layout.REPORT)


def check_journal_chain(case: Case) -> CheckResult:
    """Does each event's hash follow from the event before it and its own bytes?"""
    name = "journal-chain"
    try:
        events = case.events
    except (Defective, Unavailable) as error:
        return fails(name, sentence("the journal cannot be read"), first_items(_problems_of(error)))
    problems = _chain_problems(case.lines, events) + _frame_problems(events)
    if problems:
        return fails(name, sentence("the journal is not one unbroken chain"), first_items(problems))
    return holds(
        name, sentence("{count} events in one unbroken chain, from opening to closing", count=len(events))
    )


def check_originals(case: Case) -> CheckResult:
    """Is each photo, note and derived file named in the journal there, and no other?"""
    try:
        places = case.places
    except Defective as error:
        told = "the journal does not say which originals it means"
        return fails("originals", told, first_items(error.problems))
    problems = []
    for place in places:
        named = sentence("{path}: named by event {sequence}", path=place.path, sequence=place.sequence)
        if not case.has(place.path):
            problems.append(sentence("{named}, is missing", named=named))
        elif case.archive.sizes[place.path] != place.bytes:
            size = case.archive.sizes[place.path]
            problems.append(
                sentence(
                    "{named} with {bytes} bytes, has {size}", named=named, bytes=place.bytes, size=size
                )
            )
        elif case.digests[place.path] != place.sha256:
            found = case.digests[place.path]
            problems.append(
                sentence(
                    "{named} with SHA-256 {sha256}, has {found}",
                    named=named,
                    sha256=place.sha256,
                    found=found,
                )
            )
    known = {place.path for place in places}
    problems += [
        sentence("{path}: no event of the journal names it", path=path)
        for path in case.payload
        if path not in known and path not in _NOT_FROM_EVENTS
    ]
    if problems:
        return fails("originals", sentence("the files are not those that the journal names"),
                     first_items(problems))  # fmt: skip
    if untrue := media_problems(case):
        return fails("originals", "an original is not the picture or sound that the journal says",
                     first_items(untrue))  # fmt: skip
    if case.asked.measure_again:
        from evidence_app.package.verify.originals.again import again_problems

        otherwise, by_another = again_problems(case)
        if otherwise:
            return fails("originals", "measured again, an original gives something else than was recorded",
                         first_items(otherwise))  # fmt: skip
    roles = Counter(place.role for place in places)
    kinds = joined(", ", [
        counted("{count} photo", "{count} photos", roles["photo"]),
        counted("{count} note", "{count} notes", roles["voice"]),
        counted("{count} drawing", "{count} drawings", roles["markup"]),
    ])  # fmt: skip
    named = sentence("the journal names {kinds}; each is there and no other", kinds=kinds)
    if case.asked.measure_again:
        again = sentence("measured again, the photos give what was recorded")
        named = joined("; ", [named, again])
        if by_another:
            other = counted(
                "{count} photo was measured by another version's method and is not measured again",
                "{count} photos were measured by another version's method and are not measured again",
                by_another,
            )
            named = joined("; ", [named, other])
    return holds("originals", named)


def check_conduct_of(case: Case) -> CheckResult:
    """Was every checkpoint met or the stop rule followed, every hold long enough?"""
    issued = case.asked.step_lists
    if issued is not None:
        name = (case.step_list.id, case.step_list.version)
        if issued.get(name) != case.events[0].body["step_list"]["sha256"]:
            other = sentence(
                "{file}: is not the step list that was issued as {id} {version}",
                file=layout.STEP_LIST,
                id=name[0],
                version=name[1],
            )
            return fails("conduct", "the job went by a step list that was not issued", [other])
    breaches = check_conduct(case.step_list, case.events)
    if breaches:
        return fails("conduct", sentence("the journal does not obey its step list"),
                     first_items([breach.sentence for breach in breaches]))  # fmt: skip
    return holds(
        "conduct",
        sentence(
            "the journal obeys step list {id} {version} from beginning to end",
            id=case.step_list.id,
            version=case.step_list.version,
        ),
    )


def _problems_of(error: Defective | Unavailable) -> tuple[Sentence, ...]:
    return error.problems if isinstance(error, Defective) else (error.why,)


def _chain_problems(lines: list[bytes], events: tuple[Event, ...]) -> list[Sentence]:
    """Hashes are recomputed over the very bytes of the lines, not over what was parsed."""
    problems = []
    previous = GENESIS
    for place, (line, event) in enumerate(zip(lines, events, strict=True), start=1):
        if event.sequence != place:
            problems.append(
                sentence(
                    "event {sequence}: stands at place {place} of the journal",
                    sequence=event.sequence,
                    place=place,
                )
            )
        if hashlib.sha256(previous.encode("ascii") + content(line)).hexdigest() != event.hash:
            problems.append(
                sentence(
                    "event {sequence} ({kind}): its hash does not follow from the event before it and its own content",
                    sequence=event.sequence,
                    kind=event.kind,
                )
            )
        previous = event.hash
    return problems


def _frame_problems(events: tuple[Event, ...]) -> list[Sentence]:
    problems = []
    first, last = events[0], events[-1]
    if first.kind != "job-opened":
        problems.append(
            sentence(
                "event {sequence} ({kind}): a job begins with job-opened",
                sequence=first.sequence,
                kind=first.kind,
            )
        )
    elif first.body.get("format") != JOURNAL_FORMAT:
        problems.append(
            sentence(
                "event {sequence}: the journal has format {format}, this app knows {known}; check it with the version of the app that made it",
                sequence=first.sequence,
                format=shown(repr(first.body.get("format"))),
                known=JOURNAL_FORMAT,
            )
        )
    if last.kind != "job-closed":
        problems.append(
            sentence(
                "event {sequence} ({kind}): a sealed job ends with job-closed",
                sequence=last.sequence,
                kind=last.kind,
            )
        )
    return problems
