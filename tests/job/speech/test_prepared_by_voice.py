"""Before the work: a caution is acknowledged by its own words, an item ticked by its name."""

from __future__ import annotations

import pytest

from evidence_app.job import commands as c
from evidence_app.job.conduct.check import check_conduct
from evidence_app.job.rules.route import cautions_of
from evidence_app.job.speech.aloud import to_prepare
from evidence_app.job.speech.named import ITEMS, checked, key_words
from evidence_app.job.speech.spoken import allowed_now, command_of
from evidence_app.job.summary.event_sentences import EventSentences
from evidence_app.job.summary.journal import ReadJournal
from evidence_app.job.vocabulary import CautionAcknowledged
from evidence_app.locations import sample
from evidence_app.steplist.load import load
from evidence_app.steplist.model import Caution, Item, Signal
from evidence_app.voice.understanding.dialogue import Dialogue
from tests.job.bench import Bench


def say(bench: Bench, text: str, told: str | None = None) -> list[str]:
    """``told``: what was told to its end, by default what is to be told; the kinds of entries
    that follow."""
    job, before = bench.job, len(bench.job.record.events)
    told = to_prepare(job.step_list, job.state)[0] if told is None else told
    allowed = allowed_now(job.step_list, job.state, job.now(), told=told)
    answer = Dialogue().hear(text, allowed, 0.0)
    if answer.action == "all-here" and answer.kind == "ask":
        return ["all-here"]
    command = command_of(answer, job.state, job.now()) if answer.kind == "do" else None
    if command is not None:
        job.do(command)
    return [e.kind for e in job.record.events[before:]]


def acknowledged(bench: Bench) -> Bench:
    for caution in cautions_of(bench.job.step_list, bench.job.state.variant):
        bench.job.do(c.AcknowledgeCaution(caution.id))
    return bench


def test_a_caution_is_acknowledged_by_its_words_and_they_are_recorded(bench):
    assert say(bench, "Warning, cell.") == ["caution-acknowledged"]
    event = bench.job.record.events[-1]
    assert event.body == {"caution": "cell", "said": "Warning, cell."}
    (entry,) = ReadJournal(bench.job.record.events).of(CautionAcknowledged)
    assert "Said: “Warning, cell.”" in str(EventSentences(bench.job.step_list).said(entry))


@pytest.mark.parametrize(
    "said",
    [
        "yes",
        "yes, confirmed",
        "cell",
        "understood",
        "Caution, glass",
        "warning, no cell",
        "no warning, cell",
        "I don't think the warning cell",
        "all items are here",
        "next step",
    ],
)
def test_nothing_else_acknowledges_it(bench, said):
    assert say(bench, said) == []


def test_its_words_are_open_only_when_it_was_told_to_its_end(bench):
    assert say(bench, "Warning, cell.", told="") == []


def test_one_by_touch_still_has_no_words(bench):
    bench.job.do(c.AcknowledgeCaution("cell"))
    assert bench.job.record.events[-1].body == {"caution": "cell"}


def test_an_item_is_ticked_by_its_name(bench):
    acknowledged(bench)
    assert say(bench, "Wipes, checked.", told="") == ["item-ticked"]
    assert bench.job.record.events[-1].body["said"] == "Wipes, checked."
    assert say(bench, "Wipes, checked.", told="") == []


@pytest.mark.parametrize(
    "said", ["wipes, not checked", "no wipes checked", "wipes unchecked", "not all items are here", "wipes"]
)
def test_what_is_not_here_is_not_ticked(bench, said):
    assert say(acknowledged(bench), said) == []


@pytest.mark.parametrize(("told", "taken"), [(ITEMS, ["all-here"]), ("", [])])
def test_all_are_here_counts_only_after_all_were_told(bench, told, taken):
    assert say(acknowledged(bench), "all items are here", told) == taken


def test_a_job_prepared_by_voice_follows_its_step_list(bench):
    for text in ("Warning, cell", "roller, checked", "wipes, checked", "mesh, checked"):
        assert len(say(bench, text)) == 1
    bench.job.do(c.GoOn())
    bench.job.do(c.Abandon("The bench is needed."))
    assert not check_conduct(bench.job.step_list, bench.job.record.events)


@pytest.mark.parametrize("list_", ["bail-stand-exchange", "window-rebond", "window-rebond-cellular"])
def test_no_two_things_of_a_sample_list_have_the_same_words(list_):
    steps = load(sample(f"ossmere-h7-{list_}.toml"))
    words = [key_words(caution) for caution in steps.cautions]
    words += [checked(item) for item in (*steps.tools, *steps.consumables, *steps.new_parts)]
    assert len(set(words)) == len(words)


def test_an_identifier_without_words_leaves_it_to_the_text():
    caution = Caution(
        id="c-12", signal=Signal.DANGER, hazard="Mains voltage is behind the lid.", avoid="Unplug."
    )
    assert key_words(caution)[0] == "danger, mains voltage is"
    assert checked(Item(id="t1", name="Hex keys, long"))[0] == "hex keys long, checked"
