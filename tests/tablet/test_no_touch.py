"""One whole session from the first screen to the sealed package, spoken into a real sound server
with workshop noise 20 dB below the voice. Nothing is touched but the PIN."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.package.verify.check import verify
from tests import steplists as parts
from tests.bench._voice_sounds import workshop
from tests.devices.conftest import sound_server  # noqa: F401  a fixture
from tests.tablet.driver import PIN
from tests.tablet.talking import VOICES, need_engine, spoken

_VOICE, _NOISE_BELOW_DB = 0.08, 20
_MOST_SAYINGS = 12
_NOISE_S, _TIMES = 30, 20  # the last test's limit is shorter
_PASSED_ON_S = 1.2  # after a saying: what is under way in the sound server, and its end

LIST = parts.step_list(
    "lid-check",
    "Lid check",
    parts.device(),
    parts.SPRUNG_STAND,
    parts.LAMP,
    parts.step(
        "look",
        "Look at the lid",
        "Look at the lid.",
        parts.reading("gap", "Gap", 'unit = "mm"\nat-most = 20\ndecimals = 0\n'),
        parts.checkpoint(
            "Is the lid whole?",
            parts.photo("lid", "The whole lid"),
            not_clear='{ stop = "stopped" }',
            cannot_tell='{ redo-from = "look" }',
        ),
        more='cautions = ["sprung-stand"]\n',
    ),
    parts.stop_rule("stopped", "The lid is cracked", "Set it aside.", more="spoken-reason = false\n"),
)


class Person:
    """Says a thing, in one voice after the other, until it has led to something."""

    def __init__(self, driver, server, folder: Path) -> None:
        self.driver, self._server, self._folder = driver, server, folder
        self._heard = 0
        driver.until(lambda: self.listener is not None, "the ear")

        feed = self.listener.feed

        def counted(block, played=None) -> None:
            self._heard += len(block)
            feed(block, played)

        self.listener.feed = counted

    @property
    def listener(self):
        return self.driver.place.hearing.listener

    def say(self, text: str, until) -> None:
        for number in range(_MOST_SAYINGS):
            self._say(text, VOICES[number % len(VOICES)])
            if until():
                return
        raise AssertionError(f"“{text}” led to nothing: {self.driver.texts()}")

    @property
    def asked(self):
        return self.driver.place.hearing._asked

    def give(self, text: str, value: str | None, until) -> None:
        """What is read back is confirmed when it is right."""
        while not until():
            self.say(text, lambda: self.asked)
            right = self.asked.value == value
            answer = "yes, confirmed" if right else "no, that is wrong"
            self.say(answer, lambda: until() or not self.asked)

    def _say(self, text: str, voice: str) -> None:
        driver = self.driver
        driver.until(lambda: not driver.place.speaking.going and self.listener.sign == "listening", "ears")
        path = self._folder / "said.wav"
        sound = spoken(text, self._folder, voice) / 32768
        sound *= _VOICE / np.sqrt(np.mean(sound[np.abs(sound) > 0.01] ** 2))
        soundfile.write(path, sound, RATE)
        saying = self._server._begin("paplay", str(path))
        driver.until(lambda: saying.poll() is not None, "what was said")
        over = self._heard + int(_PASSED_ON_S * RATE)
        driver.until(lambda: self._heard > over and not self.listener.busy, "an answer")
        driver.settle()
        driver.look()


def noise(folder: Path) -> Path:
    """Each of the three kinds in turn, again and again."""
    chance, path = np.random.default_rng(5), folder / "noise.wav"
    sound = np.concatenate([workshop(_NOISE_S * RATE // 3, chance, kind) for kind in range(3)])
    sound *= _VOICE / 10 ** (_NOISE_BELOW_DB / 20) / np.sqrt(np.mean(sound**2))
    soundfile.write(path, np.tile(sound, _TIMES), RATE)
    return path


def test_a_session_without_a_touch_but_the_pin(tablet, home, tmp_path, sound_server):  # noqa: F811
    need_engine()
    (home / "step-lists").mkdir(parents=True)
    (home / "step-lists" / "lid-check.toml").write_text(LIST)
    going = sound_server._begin("paplay", str(noise(tmp_path)))
    try:
        driver = tablet(
            microphone="microphone",
            camera="bench:shelf",
            practice=False,
            listening=True,
            spoken="answers",
            speech_speed=260,
            technician="M. Okafor-Lind",
        )
        driver.touch = None  # nothing but the PIN
        person = Person(driver, sound_server, tmp_path)
        _open(driver, person)
        _work(driver, person)
        person.say("close the job", lambda: person.asked)
        person.say("yes, close the job", lambda: driver.job.state.phase == "closed")
        person.say("seal the package", lambda: person.asked)
        person.say("yes, seal the package", lambda: driver.screen == "entry")
        for _ in range(2):  # a new PIN is given twice
            driver.type(PIN)
            driver.key(13)
            driver.settle()
        driver.until(lambda: driver.place.sealed is not None, "the package")
    finally:
        going.kill()
    result = verify(driver.place.sealed.path)
    assert not result.failed, result.failed
    state = driver.job.state
    assert (state.outcome, state.opened.device.serial, state.opened.claim) == ("completed", "H4", "N4")
    body = {e.kind: e.body for e in driver.job.record.events}
    assert body["caution-acknowledged"]["said"] and body["item-ticked"]["said"]
    assert (body["reading-entered"]["value"], body["reading-entered"]["entered_by"]) == ("12", "spoken")


def _open(driver, person: Person) -> None:
    def new():
        return driver.place.new_job

    person.say("begin a new job", lambda: "fill-in" in driver.actions())
    person.say("fill in what is missing", lambda: "list lid-check" in driver.actions())
    person.say("item number one", lambda: new().step_list is not None)
    for name, spelling, value in (("serial", "hotel four", "H4"), ("claim", "november four", "N4")):
        person.give(spelling, value, lambda n=name: getattr(new(), n))
    person.say("open the job", lambda: driver.job is not None)


def _work(driver, person: Person) -> None:
    state = lambda: driver.job.state  # noqa: E731
    person.say("caution, sprung stand", lambda: state().cautions)
    person.say("all items are here", lambda: person.asked)
    person.say("yes, all items are here", lambda: state().ticked)
    person.say("next step", lambda: state().phase == "working")
    person.give("twelve", "12", lambda: state().readings)
    person.say("take the photo", lambda: driver.screen == "camera")
    person.say("take the photo", lambda: state().photos)
    person.give("the finding is clear", None, lambda: state().findings)
    person.say("next step", lambda: driver.screen == "finish")
