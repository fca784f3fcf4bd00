"""The checks of the job: journal-chain, originals, conduct, record.

The journal is read line by line without trust; what follows from it is made
again and compared with what the package holds.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence

from evidence_app.job.conduct.check import check_conduct
from evidence_app.job.vocabulary import FORMAT as JOURNAL_FORMAT
from evidence_app.package import layout
from evidence_app.package.layout import OriginalPlace
from evidence_app.package.roles import NAMES, REWORDABLE, ROLE
from evidence_app.package.verify.case import Case, Defective, Unavailable, named
from evidence_app.package.verify.journal_lines import content
from evidence_app.package.verify.originals.media import media_problems
from evidence_app.package.verify.result import CheckResult, fails, holds
from evidence_app.package.zip.names import shown
from evidence_app.record.event import GENESIS, Event, misplaced, unchained
from evidence_app.sentence import NOTHING, Sentence, counted, joined, sentence

_NOT_FROM_EVENTS = (layout.JOURNAL, layout.RECORD, layout.REPORT)


def check_journal_chain(case: Case) -> CheckResult:
    """Does each event's hash follow from the event before it and its own bytes?"""
    name = "journal-chain"
    try:
        events = case.events
    except (Defective, Unavailable) as error:
        return fails(name, "the journal cannot be read", _problems_of(error))
    problems = [*_chain_problems(case, events), *_frame_problems(events)]
    if problems:
        return fails(name, "the journal is not one unbroken chain", problems)
    if case.reworded:
        items = [sentence("event {sequence} ({kind}): reworded for disclosure", **named(events[place - 1]))
                 for place in sorted(case.reworded)]  # fmt: skip
        return holds(
            name,
            "{count} events in one unbroken chain, from opening to closing; of those reworded to "
            "replace names by roles the hash is known, and what they say now cannot be checked",
            items, count=len(events),
        )  # fmt: skip
    return holds(name, "{count} events in one unbroken chain, from opening to closing", count=len(events))


def check_originals(case: Case) -> CheckResult:
    """Is each photo, note and derived file named in the journal there, and no other?"""
    try:
        places = case.places
    except Defective as error:
        unsaid = "the journal does not say which originals it means"
        return fails("originals", unsaid, error.problems)
    if problems := list(_file_problems(case, places)):
        return fails("originals", "the files are not those that the journal names", problems)
    if untrue := media_problems(case):
        return fails("originals", "an original is not the picture or sound that the journal says", untrue)
    if case.asked.measure_again:
        from evidence_app.package.verify.originals.again import again_problems

        otherwise, by_another = again_problems(case)
        if otherwise:
            return fails("originals", "measured again, an original gives something else than was recorded",
                         otherwise)  # fmt: skip
    roles = Counter(place.role for place in places)
    kinds = joined(", ", [
        counted("{count} photo", "{count} photos", roles["photo"]),
        counted("{count} note", "{count} notes", roles["voice"]),
        counted("{count} drawing", "{count} drawings", roles["markup"]),
    ])  # fmt: skip
    withheld = sentence(" or withheld under its checksum,") if case.withheld else NOTHING
    told = [
        sentence(
            "the journal names {kinds}; each is there{withheld} and no other",
            kinds=kinds,
            withheld=withheld,
        )
    ]
    if case.asked.measure_again:
        told.append(sentence("measured again, the photos give what was recorded"))
        if by_another:
            told.append(
                counted(
                    "{count} photo is withheld or was measured by another version's method, and is not measured again",
                    "{count} photos are withheld or were measured by another version's method, and are not measured again",
                    by_another,
                )
            )
    return holds("originals", joined("; ", told))


def _file_problems(case: Case, places: Sequence[OriginalPlace]) -> Iterator[Sentence]:
    """Files that are not as the journal names them, or that it does not name."""
    for place in places:
        about = sentence("{path}: named by event {sequence}", path=place.path, sequence=place.sequence)
        if place.path in case.withheld:
            if (case.manifest[place.path], case.withheld[place.path]) != (place.sha256, place.bytes):
                yield sentence("{named}, is withheld under another checksum or size", named=about)
        elif not case.has(place.path):
            yield sentence("{named}, is missing", named=about)
        elif (size := case.archive.sizes[place.path]) != place.bytes:
            yield sentence(
                "{named} with {bytes} bytes, has {size}", named=about, bytes=place.bytes, size=size
            )
        elif (found := case.digests[place.path]) != place.sha256:
            yield sentence(
                "{named} with SHA-256 {sha256}, has {found}", named=about, sha256=place.sha256, found=found
            )
    known = {*_NOT_FROM_EVENTS, *(place.path for place in places)}
    for path in case.payload:
        if path not in known:
            yield sentence("{path}: no event of the journal names it", path=path)


def check_conduct_of(case: Case) -> CheckResult:
    """Was every checkpoint met or the stop rule followed, every hold long enough?"""
    issued = case.asked.step_lists
    if issued is not None:
        name = (case.step_list.id, case.step_list.version)
        if issued.get(name) != case.events[0].body["step_list"]["sha256"]:
            named_so = {"file": layout.STEP_LIST, "id": name[0], "version": name[1]}
            other = sentence("{file}: is not the step list that was issued as {id} {version}", **named_so)
            return fails("conduct", "the job went by a step list that was not issued", [other])
    breaches = check_conduct(case.step_list, case.events)
    if breaches:
        return fails("conduct", "the journal does not obey its step list",
                     [breach.sentence for breach in breaches])  # fmt: skip
    explained = {each for counted in case.summary.ledger for each in counted.explained}
    lines = [sentence("event {sequence}: {told}", sequence=line.sequence, told=line.sentence)
             for line in case.summary.timeline if line.sequence in explained]  # fmt: skip
    return holds("conduct", "the journal obeys step list {id} {version} from beginning to end", lines,
                 id=case.step_list.id, version=case.step_list.version)  # fmt: skip


def _problems_of(error: Defective | Unavailable) -> tuple[Sentence, ...]:
    return error.problems if isinstance(error, Defective) else (error.why,)


def _chain_problems(case: Case, events: tuple[Event, ...]) -> Iterator[Sentence]:
    """Hashes are recomputed over the very bytes of the lines, not over what was parsed."""
    previous = GENESIS
    for place, (line, event) in enumerate(zip(case.lines, events, strict=True), start=1):
        if event.sequence != place:
            yield misplaced(event, place)
        if place in case.reworded:
            said = event.body.get(REWORDABLE[event.kind]) if event.kind in REWORDABLE else None
            if not isinstance(said, str) or not said or (event.kind in NAMES and not ROLE.fullmatch(said)):
                yield sentence("event {sequence} ({kind}): has no role where one can stand", **named(event))
        elif hashlib.sha256(previous.encode("ascii") + content(line)).hexdigest() != event.hash:
            yield unchained(event)
        previous = event.hash


def _frame_problems(events: tuple[Event, ...]) -> Iterator[Sentence]:
    first, last = events[0], events[-1]
    if first.kind != "job-opened":
        yield sentence("event {sequence} ({kind}): a job begins with job-opened", **named(first))
    elif first.body.get("format") != JOURNAL_FORMAT:
        yield sentence(
            "event {sequence}: the journal has format {format}, this app knows {known}; check it with the version of the app that made it",
            sequence=first.sequence,
            format=shown(repr(first.body.get("format"))),
            known=JOURNAL_FORMAT,
        )
    if last.kind != "job-closed":
        yield sentence("event {sequence} ({kind}): a sealed job ends with job-closed", **named(last))
