"""Asking for more: what is written for the tablet, the job that answers, and both at the desk."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from evidence_app.desk import asking
from evidence_app.desk.intake import Desk, Intake, foreign_below
from evidence_app.desk.review import open_review
from evidence_app.desk.search import show
from evidence_app.deskpage.shown.package import lines_of
from evidence_app.errors import EvidenceError, Refused, SigningKeyError
from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.keys.ticket import read_ticket
from evidence_app.package.verify.check import verify
from evidence_app.practice.clock import PracticeClock
from evidence_app.steplist.load import load
from tests.asking import CLAIM, FORGERIES, REASON, START, SUPERVISOR_KEY, answered, ask, files_of, listing
from tests.making import DEPOT, SERIAL, STEP_LIST, TECHNICIAN, QuickClock, make_key


@pytest.fixture(scope="session")
def keys(tmp_path_factory) -> KeyList:
    return listing(tmp_path_factory.mktemp("keys"), SUPERVISOR_KEY)


@pytest.fixture
def first(tmp_path, stopped) -> Path:
    return Path(shutil.copy(stopped, tmp_path / "first.zip"))


def test_the_list_has_the_words_unchanged_and_the_steps_that_are_wanted(first, keys):
    steps, ticket, _ = files_of(ask(first, keys))
    asked = load(steps)
    assert [step.id for step in asked.steps] == [asking.FIRST_STEP, "inspect-slot"]
    assert asked.steps[0].instruction == REASON
    assert {caution.id for caution in asked.cautions} == set(asked.steps[0].cautions)
    told = read_ticket(ticket.read_bytes())
    assert (told.claim, told.depot, told.asked.supervisor) == (CLAIM, DEPOT, "R. Tavares-Holm")


@pytest.mark.parametrize(
    "sample",
    sorted((Path(__file__).parents[2] / "sample_sessions").glob("ossmere*.toml")),
    ids=lambda p: p.stem,
)
def test_any_step_of_the_sample_lists_can_be_asked_for_alone_or_all(sample, first, keys):
    if sample.name.endswith(".session.toml"):
        pytest.skip("no step list")
    steps, sealed = load(sample), open_review(first)
    for wanted in (*([step.id] for step in steps.steps), [step.id for step in steps.steps]):
        made = asking.request(
            steps,
            sealed.seal,
            sealed.seal_sha256,
            wanted,
            REASON,
            1,
            "R. Tavares-Holm",
            SUPERVISOR_KEY,
            keys,
            PracticeClock(START),
        )
        assert next(iter(made.values())).count(b"[[steps]]") == len(wanted) + 1


def test_the_answer_is_checked_and_shown_with_the_first(tmp_path, first, keys, register):
    intake = Intake(register, Desk("desk 2", keys))
    intake.take(first)
    package = answered(tmp_path, ask(first, keys, register=register))
    result = verify(package, keys)
    assert not result.failed, result
    assert "R. Tavares-Holm asked for it after the package with the seal" in str(
        result.check("time-bracket").sentence
    )
    intake.take(package)
    told = [each["id"] for number in (1, 2) for each in show(register, number).answers]
    assert told == [2, 1]
    assert "  It says that it answers what was asked for after package 1." in list(
        lines_of(show(register, 2))
    )


def test_what_is_written_beside_a_package_is_not_told_as_not_received(tmp_path, first, keys):
    ask(first, keys)
    assert foreign_below([tmp_path]) == []


def test_a_tablet_takes_it_from_a_disk(tmp_path, first, keys, monkeypatch):
    from evidence_app.tablet.bringing import bring

    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "tablet"))
    for disk in (ask(first, keys), ask(first, keys)):
        steps, ticket, _ = files_of(disk)
        assert bring(disk) == ([steps.name, ticket.name], [])


def test_a_second_request_after_a_package_is_a_newer_list(first, keys):
    versions = [load(files_of(ask(first, keys))[0]).version for _ in range(2)]
    assert versions == ["1.1", "1.2"]


def test_nothing_is_signed_when_no_tablet_could_take_it(tmp_path, first, keys):
    for given, wanted, key, error in (
        (None, ("inspect-slot",), SUPERVISOR_KEY, SigningKeyError),
        (keys, ("inspect-slot",), make_key(41), SigningKeyError),
        (keys, ("no-such-step",), SUPERVISOR_KEY, EvidenceError),
    ):
        with pytest.raises(error):
            ask(first, given, wanted, key)
    assert not list(tmp_path.glob("*countersign*")) and not list(tmp_path.glob("*more-*"))


def test_a_ticket_that_asks_is_no_ticket_of_another_list(first, keys, tmp_path):
    _, ticket, signature = files_of(ask(first, keys))
    with (
        Job.open(tmp_path / "job", STEP_LIST, None, SERIAL, CLAIM, TECHNICIAN, False, QuickClock()) as job,
        pytest.raises(Refused, match="another step list"),
    ):
        job.do(c.OpenTicket(ticket.read_bytes(), signature.read_bytes()))


@pytest.mark.parametrize(("forge", "said"), FORGERIES)
def test_a_forged_request_is_found(forge, said, tmp_path, first, keys):
    asked = ask(first, keys)
    forge(*files_of(asked))
    check = verify(answered(tmp_path, asked), keys).check("time-bracket")
    assert check.outcome == "fails"
    assert said in " ".join(map(str, check.items))


def test_a_request_by_a_key_that_was_revoked_before_is_found(tmp_path, first, keys):
    package = answered(tmp_path, ask(first, keys))
    later = listing(tmp_path, SUPERVISOR_KEY, revoked_at=datetime(2026, 3, 1, tzinfo=UTC), reason="lost")
    assert verify(package, later).check("time-bracket").outcome == "fails"
