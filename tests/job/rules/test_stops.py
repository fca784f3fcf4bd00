"""After a stop: only what the stop rule asks, then closed as stopped."""

import pytest

from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.sentence import Sentence
from tests.job.bench import SOURCE


@pytest.fixture
def stopped(bench):
    """Stopped by a finding; a photo of the reason, a spoken reason and a name are owed."""
    bench.work_to("clean")
    bench.settle()
    bench.do(c.GiveFinding("not-clear"))
    return bench


def give_all(bench):
    bench.photo("reason", "stop-reason")
    bench.say()
    bench.do(c.GiveName("supervisor", "R. Tavares-Holm"))


def test_stop_rule_says_what_is_owed(stopped):
    owed = [(owed.kind, owed.id) for owed in stopped.job.owed]
    assert owed == [("photo", "reason"), ("spoken-reason", None), ("name", "supervisor")]


def test_job_closes_as_stopped_when_all_is_given(stopped):
    give_all(stopped)
    (closed,) = stopped.do(c.Close())
    assert closed.body["outcome"] == "stopped"


@pytest.mark.parametrize("missing", ["photo", "say", "name"])
def test_closing_is_refused_while_something_is_owed(stopped, missing):
    if missing != "photo":
        stopped.photo("reason", "stop-reason")
    if missing != "say":
        stopped.say()
    if missing != "name":
        stopped.do(c.GiveName("supervisor", "R. Tavares-Holm"))
    with pytest.raises(Refused, match="still required"):
        stopped.do(c.Close())


@pytest.mark.parametrize(
    "command",
    [
        c.GoOn(),
        c.GoBack(),
        c.GiveFinding("clear"),
        c.StartHold(),
        c.EnterReading("gap", "0.1"),
        c.StopRepair("once more"),
        c.Abandon("no longer wanted"),
        c.TickItem("tools", "roller"),
    ],
)
def test_work_is_refused_after_a_stop(stopped, command):
    with pytest.raises(Refused, match="stopped"):
        stopped.do(command)


@pytest.mark.parametrize(
    ("wanted", "purpose"), [("slot", "checkpoint"), (None, "note"), ("slot", "stop-reason")]
)
def test_other_photos_are_refused_after_a_stop(stopped, photos, wanted, purpose):
    with pytest.raises(Refused):
        stopped.do(c.TakePhoto(photos.sharp(), wanted, purpose, SOURCE))


def test_failing_photo_of_the_reason_can_be_kept(stopped):
    sha = stopped.photo("reason", "stop-reason", blurred=True)
    stopped.do(c.KeepPhoto(sha, "the lens is cracked"))
    assert "photo" not in [owed.kind for owed in stopped.job.owed]


def test_name_that_is_not_asked_is_refused(stopped):
    with pytest.raises(Refused):
        stopped.do(c.GiveName("witness", "desk 2"))


def test_note_spoken_before_the_stop_is_not_its_reason(bench):
    bench.work_to("clean")
    bench.settle()
    bench.say()
    bench.do(c.GiveFinding("not-clear"))
    assert "spoken-reason" in [owed.kind for owed in bench.job.owed]


def test_written_note_is_not_the_spoken_reason(stopped):
    stopped.do(c.WriteNote("Adhesive residue deep in the slot"))
    assert "spoken-reason" in [owed.kind for owed in stopped.job.owed]


def test_written_note_stands_for_it_while_the_microphone_is_lost(stopped):
    stopped.do(
        c.ReportDevice(DeviceLost("microphone", "bench microphone", Sentence("unplugged"))),
        c.WriteNote("Adhesive residue deep in the slot"),
        c.ReportDevice(DeviceReturned("microphone", "bench microphone", 60)),
    )
    assert "spoken-reason" not in [owed.kind for owed in stopped.job.owed]


def test_technicians_stop_uses_the_rule_for_it(bench):
    bench.work_to("press")
    (event,) = bench.do(c.StopRepair("The strip tore"))
    assert (event.body["rule"], event.body["by"], event.body["reason"]) == (
        "set-aside", "technician", "The strip tore",
    )  # fmt: skip


def test_technician_can_stop_while_preparing(bench):
    bench.do(c.StopRepair("The cell is swollen"))
    assert bench.job.state.phase == "stopped"


def test_technician_can_stop_during_a_hold(bench):
    bench.work_to("press")
    bench.do(c.StartHold(), c.StopRepair("The panel cracked"))
    assert bench.job.state.hold is None


def test_stop_rule_that_asks_nothing_lets_the_job_close(bench):
    bench.work_to("press")
    bench.do(c.StopRepair("The strip tore"), c.Close())
    assert bench.job.state.outcome == "stopped"


def test_correction_can_be_added_after_a_stop(stopped):
    stopped.do(c.Correct(1, "The serial number ends in 2"))
    assert stopped.last("corrected").body["of"] == 1
