"""Events that a summary cannot place, and why: nothing in a journal is passed over."""

from collections.abc import Hashable, Iterator

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.journal import ReadJournal, TypedEvent
from evidence_app.job.summary.model import Unplaced
from evidence_app.sentence import Sentence, sentence

_ONCE = (v.JobOpened, v.RepairStopped, v.TicketOpened)
_OF_PHOTO = (v.PhotoJudged, v.PhotoKept, v.Measured)


def unplaced(journal: ReadJournal, known_steps: set[str]) -> tuple[Unplaced, ...]:
    """Events of an unknown kind or form, or that answer to nothing before them."""
    begun: set[Hashable] = set()
    found = []
    for entry in journal.entries:
        for said in _oddities(entry, journal, known_steps, begun):
            found.append(entry.told(Unplaced, sentence=said))
        begun.add(_begins(entry))
    return tuple(found)


def _begins(entry: TypedEvent) -> Hashable:
    """What later events can be about once this one was."""
    match entry.body:
        case v.PhotoTaken(photo=photo):
            return "photo", photo.sha256
        case v.NoteStarted(note=note) | v.NoteRecorded(note=note):
            return "note", note
        case v.HoldStarted():
            return "hold", entry.step
    return entry.kind if entry.body is not None else None


def _oddities(
    entry: TypedEvent, journal: ReadJournal, known_steps: set[str], begun: set[Hashable]
) -> Iterator[Sentence]:
    body = entry.body
    if entry.kind not in v.BODIES:
        yield sentence("Its kind is unknown to this version.")
    elif body is None:
        yield sentence("Its content does not have the form of its kind.")
    if entry.step is not None and entry.step not in known_steps:
        yield sentence("It names a step that is not in the step list.")
    if isinstance(body, _ONCE) and entry.kind in begun:
        yield sentence("An event of this kind came before; the first one counts.")
    if isinstance(body, v.JobClosed) and entry is not journal.entries[-1]:
        yield sentence("The journal goes on after this closing.")
    if isinstance(body, _OF_PHOTO) and ("photo", body.photo) not in begun:
        yield sentence("It is about a photo that was not taken before it.")
    if isinstance(body, v.TranscriptMade | v.TranscriptCorrected) and ("note", body.note) not in begun:
        yield sentence("It is about a note that was not made before it.")
    if isinstance(body, v.HoldEnded) and ("hold", entry.step) not in begun:
        yield sentence("No hold was begun at its step.")
    if isinstance(body, v.TakenBack) and body.of not in journal.undone:
        yield sentence("It takes nothing back: its event could not be taken back then.")
