"""What is counted at a step, and what a number counted there means."""

from msgspec import Struct

from evidence_app.job.rules.ledger import ledger_of
from evidence_app.job.rules.route import stop_rule
from evidence_app.job.state.job_state import JobState
from evidence_app.language import say
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import StepList

_WORDS = sentences_beside(__file__)["counted"]


class CountShown(Struct, frozen=True):
    """``differs``: the number needs a reason; ``stop`` is then that of the rule for a missing piece."""

    what: str
    told: str
    count: int
    differs: bool
    stop: str | None


def count_shown(step_list: StepList, state: JobState, thing: str, count: int | None) -> CountShown:
    """``count`` None: as listed."""
    step = state.step or ""
    line = next(line for line in ledger_of(step_list, state) if line.thing.id == thing)
    asked = next(asked for place, asked, _ in line.places if place == step)
    told = say(_WORDS[asked.goes].template, count=asked.listed)
    count = asked.listed if count is None else count
    differs = count != asked.listed or line.needs_reason(step)
    rule = stop_rule(step_list, line.thing.missing) if differs else None
    return CountShown(line.thing.words, told, count, differs, rule.reason if rule else None)
