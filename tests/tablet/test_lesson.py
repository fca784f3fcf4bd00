"""The lesson: a practice job in the language of the screen, worked to its package."""

from __future__ import annotations

import pytest

from evidence_app.locations import sample
from evidence_app.package.verify.check import verify
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import LESSONS, load_session
from evidence_app.steplist.load import load


@pytest.mark.parametrize("language", ["en", "de"])
def test_it_is_worked_by_touch_and_its_package_is_told_to_be_practice(tablet, language):
    session = load_session(sample(f"{LESSONS[language]}.session.toml"))
    driver = tablet(size=(1024, 600), clock=PracticeClock(session.begins), language=language)
    driver.begin(LESSONS[language])
    assert driver.job.step_list.title == session.title
    driver.play(session)
    kinds = [e.kind for e in driver.job.record.events]
    assert kinds.count("photo-taken") == 3 and kinds.count("hold-ended") == 2
    package = driver.seal()
    assert verify(package).failed
    assert not verify(package, accept_practice=True).failed


def test_who_begins_is_told_where_the_lesson_is(tablet):
    assert "Load a practice job, and the lesson at the end of the list." in tablet().texts()


def test_both_languages_ask_for_the_same():
    asked = [load(sample(f"{name}.toml")) for name in LESSONS.values()]
    one, other = (
        [(s.id, [r.id for r in s.readings], bool(s.hold), bool(s.checkpoint)) for s in each.steps]
        for each in asked
    )
    assert one == other
