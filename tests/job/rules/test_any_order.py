"""Whatever is asked in whatever order, the journal obeys its step list."""

from contextlib import suppress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.job.state.fold import fold
from evidence_app.sentence import Sentence
from tests.job.bench import SOURCE, Bench, Photos
from tests.restarting import RestartingClock

_PHOTOS = Photos()
_SHARP, _BLURRED = _PHOTOS.sharp(), _PHOTOS.blurred()

plain_commands = st.sampled_from([
    c.GoOn(), c.GoOn(), c.GoOn(), c.GoBack(), c.StartHold(), c.EndHold(),
    c.EnterReading("gap", "0.1"), c.EnterReading("gap", "0.3", confirm_outside=True),
    c.EnterReading("part", "MS-4"), c.GiveFinding("clear"), c.GiveFinding("clear"),
    c.GiveFinding("not-clear"), c.GiveFinding("cannot-tell"), c.WriteNote("a note"), c.StartNote(),
    c.ReportDevice(DeviceLost("microphone", "m", Sentence(""))), c.ReportDevice(DeviceReturned("microphone", "m", 0.0)),
    c.GiveName("supervisor", "R. Tavares-Holm"), c.Close(), c.Correct(1, "a correction"),
])  # fmt: skip
acts = st.one_of(
    plain_commands,
    plain_commands,
    st.sampled_from(["settle", "settle", "back", "note", "resume", "restart", "wait", "keep"]),
    st.tuples(
        st.sampled_from(["slot", "strip", "seam", "reason", None]),
        st.sampled_from(["checkpoint", "stop-reason", "note"]),
        st.booleans(),
    ),
)


class Anything:
    """Carries out acts, taking a refusal for an answer."""

    def __init__(self, bench):
        self.bench = bench
        self.taken = 0

    def do(self, act):
        with suppress(Refused):
            self._do(act)

    def _do(self, act):
        bench, job = self.bench, self.bench.job
        bench.clock.advance(1)
        if isinstance(act, c.Command):
            job.do(act)
        elif isinstance(act, tuple):
            wanted, purpose, sharp = act
            self.taken += 1
            data = (_SHARP if sharp else _BLURRED) + b"%d" % self.taken
            job.do(c.TakePhoto(data, wanted, purpose, SOURCE))
        elif act == "settle":
            bench.settle()
        elif act == "back":
            job.do(c.TakeBack(job.state.can_take_back(bench.clock.now()) or 0))
        elif act == "keep":
            for owed in job.owed:
                if owed.photo:
                    job.do(c.KeepPhoto(owed.photo, "it shows the part"))
        elif act == "note" and job.state.open_note:
            job.do(c.FinishNote(job.state.open_note.id, bench.sound(0.1), 0.1))
        elif act == "resume":
            bench.resume()
        elif act == "restart":
            bench.clock.restart()
        elif act == "wait":
            bench.clock.advance(15)


@pytest.mark.parametrize("prepared", [False, True])
@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(sequence=st.lists(acts, min_size=5, max_size=40))
def test_journal_obeys(tmp_path_factory, prepared, sequence):
    folder = tmp_path_factory.mktemp("any") / "job"
    bench = Bench(folder, RestartingClock("2026-03-02T08:00:00.000+01:00"), Photos())
    bench.open()
    if prepared:
        bench.work_to("clean")
    anything = Anything(bench)
    for act in sequence:
        anything.do(act)
    assert bench.breaches() == []
    assert fold(bench.job.record.events) == bench.job.state
    bench.job.close()
