"""What was counted out of the unit and into it: the ledger of the counts that stand."""

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.ledger import LedgerLine, ledger
from evidence_app.job.state.facts import CountGiven
from evidence_app.job.summary.journal import ReadJournal
from evidence_app.job.summary.model import LedgerRecord
from evidence_app.steplist.model import StepList


def ledger_lines(step_list: StepList, variant: str | None, journal: ReadJournal) -> tuple[LedgerLine, ...]:
    counts = (e.told(CountGiven) for e in journal.of(v.PiecesCounted) if not journal.is_void(e))
    standing = {(count.step, count.thing): count for count in counts}
    return ledger(step_list, variant, lambda step, thing: standing.get((step, thing)))


def ledger_record(line: LedgerLine) -> LedgerRecord:
    explained = [given for given in line.standing if given.reason]
    return LedgerRecord(
        id=line.thing.id,
        name=line.thing.words,
        listed_out=line.listed("out"),
        listed_in=line.listed("in"),
        out=line.counted("out"),
        went_in=line.counted("in"),
        left_in=line.left_in(),
        uncounted=line.uncounted,
        explained=tuple(given.sequence for given in explained),
        others=tuple(given.other for given in explained if given.other),
        reasons=tuple(given.reason for given in explained if given.reason),
        photos=tuple(given.photo for given in line.standing if given.photo),
    )
