"""The ledger: what was counted out of the unit and into it, against the step list."""

from collections.abc import Callable, Sequence

from msgspec import Struct

from evidence_app.job.rules.route import steps_of
from evidence_app.job.state.facts import CountGiven
from evidence_app.job.state.job_state import JobState
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.counting import counts_at
from evidence_app.steplist.model import CountAsked, CountedThing, StepList


class LedgerLine(Struct, frozen=True):
    """One counted thing. ``places`` are the steps that count it, in their order, each with the
    count that stands there (None: not counted yet)."""

    thing: CountedThing
    places: tuple[tuple[str, CountAsked, CountGiven | None], ...]

    def at(self, step: str | None) -> tuple[CountAsked, CountGiven | None] | None:
        """What is listed at a step and the count that stands there; None where it is not counted."""
        return next(((asked, given) for place, asked, given in self.places if place == step), None)

    @property
    def standing(self) -> list[CountGiven]:
        return [given for *_, given in self.places if given]

    def listed(self, goes: str) -> int:
        return sum(asked.listed for _, asked, _ in self.places if asked.goes == goes)

    def counted(self, goes: str) -> int:
        return sum(given.count for given in self.standing if given.goes == goes)

    def left_in(self, but: str | None = None) -> int:
        """Pieces in the unit beyond what the list gives for the steps counted so far; below 0 that
        many are lacking. The step ``but`` is left out."""
        return sum(
            (given.count - asked.listed) * (1 if asked.goes == "in" else -1)
            for step, asked, given in self.places
            if given and step != but
        )

    @property
    def uncounted(self) -> tuple[str, ...]:
        """The steps that have not counted it."""
        return tuple(step for step, _, given in self.places if given is None)

    def needs_reason(self, step: str) -> bool:
        """Whether the number listed does not balance there: it is the thing's last count."""
        return self.places[-1][0] == step and self.left_in(but=step) != 0

    def is_open(self, step: str) -> bool:
        """Whether the step owes a count: the one there is missing, or it is the thing's last, what
        came out and went in does not balance, and the newest count gives no reason."""
        if not all(given for place, _, given in self.places if place == step):
            return True
        newest = max(self.standing, key=lambda given: given.sequence)
        return self.places[-1][0] == step and newest.reason is None and self.left_in() != 0


def ledger(
    step_list: StepList, variant: str | None, standing: Callable[[str, str], CountGiven | None]
) -> tuple[LedgerLine, ...]:
    """A line for each thing that the variant counts; ``standing`` gives the count that stands of a
    thing at a step."""
    places: dict[str, list] = {}
    for step in steps_of(step_list, variant):
        for thing, asked in counts_at(step_list, step, variant):
            places.setdefault(thing.id, []).append((step.id, asked, standing(step.id, thing.id)))
    things = (thing for thing in step_list.counted if thing.id in places)
    return tuple(LedgerLine(thing, tuple(places[thing.id])) for thing in things)


def balance_words(left_in: int, uncounted: Sequence[str]) -> Sentence:
    """``left_in`` and ``uncounted`` as in ``LedgerLine``, in words: what was never counted is no
    balance."""
    if left_in > 0:
        return sentence("{count} more in the unit than listed", count=left_in)
    if left_in < 0:
        return sentence("{count} fewer in the unit than listed", count=-left_in)
    return sentence("not all counted") if uncounted else sentence("none")


def ledger_of(step_list: StepList, state: JobState) -> tuple[LedgerLine, ...]:
    """The ledger of a job as it stands."""
    return ledger(step_list, state.variant, state.count_of)
