"""The check of practice: is this evidence at all?"""

from collections.abc import Iterator, Sequence

from evidence_app.package import layout
from evidence_app.package.verify.case import Case, Defective, Unavailable, named
from evidence_app.package.verify.originals.exif_time import HEAD_BYTES, camera_named
from evidence_app.package.verify.result import CheckResult, fails, holds
from evidence_app.package.zip.archive import read_head
from evidence_app.package.zip.names import shown
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence

# What the practice clock calls its runs, and what the practice camera writes into Exif.
_PRACTICE, _PRACTICE_CAMERA = "practice-", "practice camera"


def check_practice(case: Case) -> CheckResult:
    """Is this evidence at all? A practice package never passes for a real one."""
    try:
        events = case.events
    except (Defective, Unavailable):
        events = ()
    if not events and case.seal is None:
        raise Unavailable(sentence("neither the seal nor the journal can be read"))
    marked = bool(case.seal and case.seal.practice) or any(
        event.kind == "job-opened" and event.body.get("practice") is not False for event in events
    )
    if not marked and (signs := list(_practice_signs(case, events))):
        return fails("practice", "it is not marked as practice, but contains practice material", signs)
    if not marked:
        return holds("practice", "it is not marked as practice and holds no practice material")
    if case.asked.accept_practice:
        return holds("practice", "practice package, accepted because practice was asked for")
    return fails("practice", "it was made for practice and proves nothing about a real unit")


def _practice_signs(case: Case, events: Sequence[Event]) -> Iterator[Sentence]:
    """Every trace of practice, which whoever makes a practice job real must have overlooked."""
    for event in events:
        yield from _practice_sign(event)
    runs = {event.boot: event for event in reversed(events) if event.boot.startswith(_PRACTICE)}
    for boot, event in sorted(runs.items()):
        yield sentence(
            "event {sequence} ({kind}): is of a practice clock's run, {boot}",
            **named(event),
            boot=shown(boot),
        )
    for path in (path for path in case.payload if path.startswith(layout.PHOTOS)):
        if camera_named(read_head(case.archive, path, HEAD_BYTES)) == _PRACTICE_CAMERA:
            yield sentence("{file}: was taken by the {camera}", file=path, camera=_PRACTICE_CAMERA)


def _practice_sign(event: Event) -> Iterator[Sentence]:
    source = event.body.get("source")
    if event.kind == "job-opened" and event.body.get("clock") != "system":
        yield sentence(
            "event {sequence} (job-opened): its times come from a practice clock", sequence=event.sequence
        )
    if event.kind == "photo-taken" and isinstance(source, dict) and source.get("kind") == "practice":
        yield sentence(
            "event {sequence} (photo-taken): was taken by the practice camera", sequence=event.sequence
        )
