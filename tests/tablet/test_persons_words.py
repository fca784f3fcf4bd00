"""What a person wrote stands on every screen as it was written, in every language.

Each word is a text of the catalogues too; how that is told from the screen's own words is said
in tests/commands/test_persons_words.py.
"""

from __future__ import annotations

import json

import pytest

from evidence_app import language
from tests import making
from tests.commands.test_persons_words import OTHERS, WORDS

SHOWN = {
    "start": {"SERIAL", "claim"},
    "step": {"SERIAL", "claim"},
    "stop": {"SERIAL", "claim", "SUPERVISOR"},
    "finish": {"SERIAL", "claim", "KEPT"},
    "lookback": {"SERIAL", "claim", "TECHNICIAN", "NOTE", "KEPT", "SUPERVISOR"},
    "details": {"SERIAL", "claim", "TECHNICIAN", "NOTE", "KEPT", "SUPERVISOR"},
}


@pytest.fixture
def screens(tablet, home, monkeypatch):
    """Every screen's texts in a job whose people wrote ``words``."""

    telling: set[str] = set()  # entries with a person's words, as found where they are no others

    def see(words: dict[str, str], spoken: str) -> dict[str, str]:
        for name in ("TECHNICIAN", "SERIAL", "SUPERVISOR", "NOTE", "KEPT"):
            monkeypatch.setattr(making, name, words[name])
        monkeypatch.setenv("EVIDENCE_APP_HOME", str(home / spoken / words["claim"]))
        folder = home / spoken / words["claim"] / "jobs" / "one"
        making.make_closed_job(folder, outcome="stopped", claim=words["claim"], practice=True, close=False)
        driver = tablet(language=spoken)
        driver.until(lambda: "job one" in driver.actions(), "the job's line")
        seen = {"start": driver.texts()}
        driver.touch("job one")
        driver.until(lambda: driver.job is not None, "the job")
        for name in ("step", "stop", "finish", "lookback"):
            driver.root.go(name)
            driver.settle()
            seen[name] = driver.texts()
        details = []
        if words is OTHERS:
            for event in driver.job.record.events:
                if any(word in json.dumps(event.body) for word in words.values()):
                    telling.add(f"entry {event.sequence}")
        while True:
            for entry in telling.intersection(driver.actions()):
                driver.touch(entry)
                details.append(driver.texts())
                driver.touch("back")
            if "earlier" not in driver.actions():
                break
            driver.touch("earlier")
            seen["lookback"] += driver.texts()
        driver.end()
        return seen | {"details": "\n".join(details)}

    return see


@pytest.mark.parametrize("spoken", language.LANGUAGES)
def test_a_persons_words_stand_on_every_screen_as_written(screens, spoken):
    plain, theirs = screens(OTHERS, spoken), screens(WORDS, spoken)
    wrong = []
    for screen, names in SHOWN.items():
        for name in sorted(names):
            shown = plain[screen].count(OTHERS[name])
            more = theirs[screen].count(WORDS[name]) - plain[screen].count(WORDS[name])
            if not shown or more != shown:
                wrong.append((screen, name, shown, more))
    assert not wrong
