"""One job driven from several threads at once, as a screen with workers does."""

from concurrent.futures import ThreadPoolExecutor

from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.job.state.fold import fold
from tests.job.bench import SOURCE


def test_every_command_is_in_the_journal_once_and_in_order(bench, photos):
    bench.work_to("clean")
    pictures = [photos.sharp() for _ in range(4)]
    works = [c.TakePhoto(data, "slot", "checkpoint", SOURCE) for data in pictures]
    works += [c.WriteNote(f"note {n}") for n in range(20)]
    works += [c.Correct(1, f"correction {n}") for n in range(20)]
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(bench.job.do, works))
    told = [event.sequence for events in answers for event in events]
    last = bench.job.record.events[-1].sequence
    assert sorted(told) == list(range(last - len(told) + 1, last + 1))
    assert fold(bench.job.record.events) == bench.job.state
    assert bench.breaches() == []


def test_closing_waits_for_a_photo_to_be_judged(bench, photos):
    bench.work_to("shut")
    commands = [c.TakePhoto(photos.sharp(), None, "note", SOURCE), c.Close()]

    def do(command):
        try:
            return bench.job.do(command)
        except Refused:
            return ()

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(do, commands))
    kinds = bench.kinds()
    assert kinds[-1] == "job-closed"
    assert kinds.count("photo-taken") == kinds.count("photo-judged")
    assert bench.breaches() == []
