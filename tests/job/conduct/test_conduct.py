"""The conduct check: silent on journals the job wrote, and never at a loss on others."""

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidence_app.devices.watch import DeviceLost
from evidence_app.job import commands as c
from evidence_app.job.conduct.check import check_conduct
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence
from tests.job.conduct.forgery import stopped


def completed(bench):
    bench.work_to("shut")
    bench.do(c.Close())


def stopped_by_technician(bench):
    bench.work_to("press")
    bench.do(c.StartHold(), c.StopRepair("The panel cracked"), c.Close())


def stopped_by_redo_limit(bench):
    bench.work_to("inspect")
    for _ in range(3):
        while bench.job.step.id != "inspect":
            bench.pass_step()
        bench.settle()
        bench.do(c.GiveFinding("not-clear"))
    bench.do(c.Close())


def abandoned(bench):
    bench.do(c.Abandon("The owner wants the unit back"))


def interrupted(bench):
    bench.work_to("press")
    bench.do(c.StartHold())
    bench.clock.restart(away_s=600)
    bench.resume()
    bench.hold(4)
    bench.do(c.Leave())
    bench.resume()
    bench.do(c.StartNote())
    bench.resume()
    completed(bench)


def with_retakes(bench):
    bench.work_to("inspect")
    bench.photo("strip", blurred=True)
    sha = bench.photo("strip", blurred=True)
    bench.do(c.KeepPhoto(sha, "the lens is cracked"))
    bench.settle()
    bench.do(c.GiveFinding("cannot-tell"))
    bench.photo("strip")
    completed(bench)


def taken_back(bench):
    bench.work_to("inspect")
    bench.settle()
    (given, _) = bench.do(c.GiveFinding("not-clear"))
    bench.do(c.TakeBack(given.sequence))
    completed(bench)


def looked_back(bench):
    bench.work_to("inspect")
    bench.do(c.GoBack(), c.GoBack())
    bench.photo("slot")
    bench.do(c.GiveFinding("clear"), c.GoOn(), c.GoOn())
    completed(bench)


def without_microphone(bench):
    bench.work_to("clean")
    bench.settle()
    bench.do(
        c.GiveFinding("not-clear"),
        c.ReportDevice(DeviceLost("microphone", "bench microphone", Sentence(""))),
        c.WriteNote("Adhesive deep in the slot"),
        c.GiveName("supervisor", "R. Tavares-Holm"),
    )
    bench.photo("reason", "stop-reason")
    bench.do(c.Close())


@pytest.mark.parametrize(
    "story",
    [
        completed, stopped, stopped_by_technician, stopped_by_redo_limit, abandoned, interrupted,
        with_retakes, taken_back, looked_back, without_microphone,
    ],
)  # fmt: skip
def test_journal_of_a_job_obeys(bench, story):
    story(bench)
    assert check_conduct(bench.job.step_list, bench.job.record.events) == []


def test_journal_that_is_not_closed_is_said_to_be_so(bench):
    bench.work_to("clean")
    (breach,) = check_conduct(bench.job.step_list, bench.job.record.events)
    assert "without the job being closed" in str(breach.sentence)


def test_empty_journal_is_a_breach(bench):
    assert check_conduct(bench.job.step_list, [])


def test_breach_names_event_and_step(bench):
    bench.work_to("press")
    bench.hold(4)
    lie = msgspec.structs.replace(bench.last("hold-ended"), body={"held_s": 4, "met": True, "reason": None})
    events = [lie if e.sequence == lie.sequence else e for e in bench.job.record.events]
    breach = check_conduct(bench.job.step_list, events)[0]
    assert (breach.sequence, breach.step) == (lie.sequence, "press")
    assert str(breach.sentence).startswith(f"event {lie.sequence} (hold-ended, step press) says")


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)),
    max_leaves=6,
)
hostile = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def eventful(bench):
    bench.work_to("clean")
    bench.say()
    bench.job.do(c.WriteNote("clean so far"))
    with_retakes(bench)


@pytest.fixture(scope="module")
def journal(journal_maker):
    """A long journal with most kinds of event, and its step list."""
    return journal_maker(eventful)


@hostile
@given(data=st.data())
def test_hostile_body_never_raises(journal, data):
    step_list, events = journal
    changed = list(events)
    place = data.draw(st.integers(0, len(events) - 1))
    body = dict(events[place].body)
    for key in data.draw(st.sets(st.sampled_from([*body, "other"]), min_size=1)):
        body[key] = data.draw(json_values)
    changed[place] = msgspec.structs.replace(events[place], body=body)
    for breach in check_conduct(step_list, changed):
        assert breach.sentence


@hostile
@given(
    events=st.lists(
        st.builds(
            Event,
            sequence=json_values, kind=st.text(max_size=9) | json_values, step=json_values,
            body=json_values, wall=json_values, mono_us=json_values, boot=json_values,
            actor=json_values, hash=json_values,
        ) | json_values,
        max_size=5,
    )
)  # fmt: skip
def test_things_that_are_no_events_are_breaches(journal, events):
    assert check_conduct(journal[0], events)


@hostile
@given(data=st.data())
def test_events_cut_out_and_moved_never_raise(journal, data):
    step_list, events = journal
    kept = data.draw(st.lists(st.sampled_from(events), max_size=40))
    assert check_conduct(step_list, kept)
