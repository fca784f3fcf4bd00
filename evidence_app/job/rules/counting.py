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
from evidence_app.sentence import sentence


def count_pieces(at: Situation, command: c.CountPieces) -> list[Draft]:
    found, step = _line(at, command.thing), at.state.step
    here = found.at(step) if found else None
    if found is None or here is None or step is None:
        at.refuse("“{thing}” is not counted here", "count what is required here", thing=command.thing)
    listed, most = here[0].listed, limits.COUNTED_PIECES
    if not 0 <= command.count <= most:
        at.refuse("{count} is no number of pieces", "count up to {most}", count=command.count, most=most)
    check_photo(at, command.photo)
    other, stated = command.other, command.reason
    if other is not None:
        other = line(other, sentence("the other kind"))
    if stated is not None:
        stated = reason(stated, sentence("the reason for the count"))
    elif other is not None:
        at.refuse("pieces of another kind need a reason", "state the reason")
    elif command.count != listed:
        at.refuse(
            "{count} counted, {listed} listed",
            "count again, or state the reason",
            count=command.count,
            listed=listed,
        )
    elif found.needs_reason(step):
        at.refuse(
            "with it, what came out and what went in do not balance", "count again, or state the reason"
        )
    goes = here[0].goes
    return [at.draft(v.PiecesCounted(command.thing, goes, command.count, other, stated, command.photo))]


def stop_for_missing(at: Situation, command: c.StopForMissing) -> list[Draft]:
    found = _line(at, command.thing)
    differs = found and any(given and given.count != asked.listed for _, asked, given in found.places)
    if found is None or found.thing.missing is None or not differs:
        at.refuse(
            "no count of “{thing}” leads to a stop", "count it, or stop with a reason", thing=command.thing
        )
    return [stopped(at, found.thing.missing, "count")]


def _line(at: Situation, thing: str) -> LedgerLine | None:
    return next((line for line in ledger_of(at.step_list, at.state) if line.thing.id == thing), None)
