"""The rules on counting what comes out of the unit and goes in, and on a missing piece."""

from evidence_app import limits
from evidence_app.job import commands as c
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import line, reason
from evidence_app.job.rules.ledger import LedgerLine, ledger_of
from evidence_app.job.rules.notes_devices import check_photo
from evidence_app.job.rules.situation import Situation
from evidence_app.job.rules.steps import stopped
from evidence_app.record.event import Draft
from evidence_app.sentence import sentence, sentences_beside

_WHY = sentences_beside(__file__)


def count_pieces(at: Situation, command: c.CountPieces) -> list[Draft]:
    found, step = _line(at, command.thing), at.state.step
    here = found.at(step) if found else None
    if found is None or here is None or step is None:
        raise at.worded(_WHY["not-counted"], thing=command.thing)
    listed, most = here[0].listed, limits.COUNTED_PIECES
    if not 0 <= command.count <= most:
        raise at.worded(_WHY["no-number"], count=command.count, most=most)
    check_photo(at, command.photo)
    other, stated = command.other, command.reason
    if other is not None:
        other = line(other, sentence("the other kind"))
    if stated is not None:
        stated = reason(stated, sentence("the reason for the count"))
    elif other is not None:
        raise at.worded(_WHY["other-kind"])
    elif command.count != listed:
        raise at.worded(_WHY["differs"], count=command.count, listed=listed)
    elif found.needs_reason(step):
        raise at.worded(_WHY["unbalanced"])
    goes = here[0].goes
    return [at.draft(v.PiecesCounted(command.thing, goes, command.count, other, stated, command.photo))]


def stop_for_missing(at: Situation, command: c.StopForMissing) -> list[Draft]:
    found = _line(at, command.thing)
    differs = found and any(given and given.count != asked.listed for _, asked, given in found.places)
    if found is None or found.thing.missing is None or not differs:
        raise at.worded(_WHY["no-stop"], thing=command.thing)
    return [stopped(at, found.thing.missing, "count")]


def _line(at: Situation, thing: str) -> LedgerLine | None:
    return next((line for line in ledger_of(at.step_list, at.state) if line.thing.id == thing), None)
