"""What the page takes in is judged and measured again, as the command does."""

from __future__ import annotations

import os
import time

import pytest
from msgspec import structs

from evidence_app.desk.register import Register
from evidence_app.desk.search import show
from evidence_app.deskpage.place import DeskPlace
from evidence_app.deskpage.settings import DeskSettings
from evidence_app.deskpage.shown.taken import arrival_of
from tests.hostile.make import build
from tests.hostile.on_measuring import measured_package
from tests.hostile.registry import AGAIN


@pytest.fixture(scope="module")
def made_up(tmp_path_factory):
    folder = tmp_path_factory.mktemp("measured")
    return build(AGAIN["measured-value-made-up"], measured_package(folder), folder).path


@pytest.fixture
def place(tmp_path):
    return DeskPlace(Register(tmp_path / "desk" / "register.db"), DeskSettings())


def taken_in(place, path, **how):
    """The batch once it is over, and the turns that were seen meanwhile."""
    batch, turns = place.receiving.begin([path], "desk 2", **how), []
    while not batch.over:
        turns.append(batch.turn)
        time.sleep(0.002)
    return batch, [*turns, batch.turn]


def test_a_value_that_its_photo_does_not_give_fails_and_is_told(place, made_up):
    batch, turns = taken_in(place, made_up)
    assert not batch.trouble
    found = batch.taken[0].checked.result
    assert found.failed == ("originals",)
    assert "measured again" in str(found.check("originals").sentence)
    assert show(place.register, batch.numbers[0]).package["exit_status"] == 1
    assert turns == sorted(turns) and turns[-1] == 2


def test_it_can_be_ended_while_it_measures(place, made_up, monkeypatch):
    told = place.receiving._told

    def ended(batch, *at) -> None:
        told(batch, *at)
        if batch.turn == 2:
            place.receiving.cancel()

    monkeypatch.setattr(place.receiving, "_told", ended)
    batch, turns = taken_in(place, made_up)
    assert batch.cancelled and not batch.taken and turns[-1] == 2


def test_what_failed_before_is_something_to_look_at_again(place, made_up):
    taken_in(place, made_up)
    arrival = arrival_of(taken_in(place, made_up)[0].taken[0])
    assert not arrival.good
    assert "does not hold" in " ".join(arrival.words)


def test_checking_again_measures_again_too(place, made_up):
    number = taken_in(place, made_up)[0].numbers[0]
    batch, turns = taken_in(place, made_up, again=True)
    assert batch.numbers == (number,) and 2 in turns
    assert batch.taken[0].checked.exit_status == 1


@pytest.mark.parametrize("path", ["/dev/zero", "pipe", "missing"])
def test_time_authority_that_is_no_file_is_told_and_not_waited_for(place, made_up, tmp_path, path):
    os.mkfifo(tmp_path / "pipe")
    place.settings = structs.replace(place.settings, time_authority=str(tmp_path / path))
    batch, _ = taken_in(place, made_up)
    assert path.strip("/") in batch.trouble and not batch.taken
