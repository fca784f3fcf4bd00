"""Before work: cautions one by one, items ticked, a ticket if there is one."""

import json

import pytest

from evidence_app.errors import Refused
from evidence_app.job import commands as c
from tests.job.bench import Bench

TICKET = {
    "format": "evidence-ticket/1",
    "depot": "Northquay",
    "nonce": "0123456789abcdef0123456789abcdef",
    "issued_at": "2026-03-02T07:00:00.000+01:00",
    "claim": None,
}


def ticket(**changes):
    return c.OpenTicket(json.dumps(TICKET | changes).encode(), bytes(64))


def test_work_begins_when_all_is_acknowledged_and_ticked(bench):
    bench.prepare()
    (entered,) = bench.do(c.GoOn())
    assert (entered.kind, entered.step, entered.body["reason"]) == ("step-entered", "open", "first")


def test_work_cannot_begin_without_a_caution(bench):
    bench.do(
        c.TickItem("tools", "roller"), c.TickItem("consumables", "wipes"), c.TickItem("new-parts", "mesh")
    )
    with pytest.raises(Refused, match="The cell holds energy"):
        bench.do(c.GoOn())


def test_work_cannot_begin_without_a_part_that_must_be_new(bench):
    bench.do(
        c.AcknowledgeCaution("cell"), c.TickItem("tools", "roller"), c.TickItem("consumables", "wipes")
    )
    with pytest.raises(Refused, match="Mesh strip"):
        bench.do(c.GoOn())


def test_caution_of_another_variants_step_is_not_owed(bench):
    assert [owed.id for owed in bench.job.owed if owed.kind == "caution"] == ["cell"]


def test_caution_of_the_variants_own_step_is_owed(folder, clock, photos):
    radio = Bench(folder, clock, photos)
    with radio.open(variant="radio"):
        assert {o.id for o in radio.job.owed if o.kind == "caution"} == {"cell", "glass"}


@pytest.mark.parametrize(
    "command", [c.AcknowledgeCaution("heat"), c.TickItem("tools", "hammer"), c.TickItem("tools", "mesh")]
)
def test_what_the_step_list_does_not_name_is_refused(bench, command):
    with pytest.raises(Refused):
        bench.do(command)


def test_same_caution_twice_is_refused(bench):
    bench.do(c.AcknowledgeCaution("cell"))
    with pytest.raises(Refused, match="already"):
        bench.do(c.AcknowledgeCaution("cell"))


def test_ticket_is_kept_byte_for_byte(bench):
    command = ticket()
    (event,) = bench.do(command)
    path = bench.job.record.path_of(event.body["ticket"]["sha256"])
    assert path.read_bytes() == command.ticket
    assert event.body["nonce"] == TICKET["nonce"]


@pytest.mark.parametrize(
    "command",
    [
        c.OpenTicket(b"not a ticket", bytes(64)),
        c.OpenTicket(json.dumps(TICKET).encode(), bytes(63)),
        ticket(format="other/1"),
        ticket(issued_at="yesterday"),
        ticket(nonce=""),
        ticket(claim="C-78"),
    ],
)
def test_ticket_that_cannot_be_used_is_refused(bench, command):
    with pytest.raises(Refused, match="ticket"):
        bench.do(command)
    assert bench.kinds() == ["job-opened"]


def test_ticket_comes_before_the_work(bench):
    bench.work_to("open")
    with pytest.raises(Refused):
        bench.do(ticket())


def test_second_ticket_is_refused(bench):
    bench.do(ticket())
    with pytest.raises(Refused, match="already"):
        bench.do(ticket(nonce="f" * 32))
