"""Journals forged from true ones: by someone who has the app's own key, so that numbers,
clocks and the chain are as they should be and only the conduct is not.
"""

import msgspec

from evidence_app.job import commands as c
from evidence_app.job.conduct.check import check_conduct


class Forgery:
    """The events of a true journal, to be changed, left out or added to."""

    def __init__(self, journal) -> None:
        self.step_list, events = journal
        self.events = list(events)

    def place(self, kind, nth=0, **body):
        places = [
            place
            for place, event in enumerate(self.events)
            if event.kind == kind and all(event.body.get(k) == v for k, v in body.items())
        ]
        return places[nth]

    def change(self, place, step=..., **body):
        event = self.events[place]
        changes = {"body": event.body | body}
        if step is not ...:
            changes["step"] = step
        self.events[place] = msgspec.structs.replace(event, **changes)

    def leave_out(self, *places):
        self.events = [e for p, e in enumerate(self.events) if p not in places]

    def add(self, place, kind, step, **body):
        self.events.insert(
            place, msgspec.structs.replace(self.events[place - 1], kind=kind, step=step, body=body)
        )

    def later(self, place, seconds):
        """Everything from ``place`` on happens later (or earlier) by ``seconds``."""
        for p in range(place, len(self.events)):
            moved = self.events[p].mono_us + round(seconds * 1e6)
            self.events[p] = msgspec.structs.replace(self.events[p], mono_us=moved)

    def breaches(self):
        numbered = [
            msgspec.structs.replace(event, sequence=number)
            for number, event in enumerate(self.events, start=1)
        ]
        return [str(breach.sentence) for breach in check_conduct(self.step_list, numbered)]


def found(forgery, *expected):
    """The check finds what is expected and nothing else: each of its breaches holds one of
    ``expected``, and each of those stands in a breach."""
    breaches = forgery.breaches()
    unexpected = [b for b in breaches if not any(words in b for words in expected)]
    missing = [words for words in expected if not any(words in b for b in breaches)]
    assert (unexpected, missing) == ([], []), breaches


def completed(bench):
    """With a retake, a kept photo and a note."""
    bench.work_to("clean")
    bench.photo("slot", blurred=True)
    bench.say()
    bench.work_to("inspect")
    sha = bench.photo("strip", blurred=True)
    bench.do(c.KeepPhoto(sha, "the lens is cracked"))
    bench.work_to("shut")
    bench.do(c.Close())


def stopped(bench):
    bench.work_to("clean")
    bench.settle()
    bench.do(c.GiveFinding("not-clear"))
    bench.photo("reason", "stop-reason")
    bench.say()
    bench.do(c.GiveName("supervisor", "R. Tavares-Holm"), c.Close())


def with_taking_back(bench):
    bench.work_to("press")
    bench.do(c.StartHold())
    bench.clock.advance(10)
    (entered,) = bench.do(c.EnterReading("gap", "0.15"))
    bench.do(c.TakeBack(entered.sequence))
    bench.do(c.EndHold())
    bench.work_to("shut")
    bench.do(c.Close())
