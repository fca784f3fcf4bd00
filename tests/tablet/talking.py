"""A technician who speaks: generated speech into the microphone that the app hears.

The sound comes as fast as it is taken while something is said, and as slowly as time
passes while nothing is, so that a test does not wait for speech to be over.
"""

from __future__ import annotations

import importlib.util
import queue
import shutil
import subprocess
import time
import uuid
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from evidence_app.devices.microphone import BLOCK, RATE
from evidence_app.devices.named import register_camera, register_microphone
from evidence_app.devices.played import FileMicrophone, PlayedMicrophone
from evidence_app.job import commands as c
from evidence_app.job.rules.owed import owed_now
from evidence_app.job.running.guide import Job
from evidence_app.locations import jobs_folder, sample
from evidence_app.sentence import sentence

VOICES = ("en-gb", "en-us", "en-gb-x-rp")
"""A person says it otherwise when it was not understood."""
_BEFORE_S, _AFTER_S = 0.5, 1.2


def need_engine() -> None:
    for package in ("onnxruntime", "moonshine_voice"):
        if importlib.util.find_spec(package) is None:
            pytest.skip(f"{package} is not installed")
    if not shutil.which("espeak-ng"):
        pytest.skip("espeak-ng is not installed")


class Mouth(PlayedMicrophone):
    """A microphone that hears what ``say`` is told, between long quiet."""

    here: Mouth | None = None

    def __init__(self, _rest: str = "") -> None:
        super().__init__("bench microphone", realtime=False)
        self._said: queue.Queue[np.ndarray] = queue.Queue()
        self.unplugged = False
        Mouth.here = self

    def say(self, sound: np.ndarray) -> None:
        self._said.put(np.concatenate([_quiet(_BEFORE_S), sound, _quiet(_AFTER_S)]))

    def blocks(self):
        from evidence_app.errors import DeviceError

        while True:
            if self.unplugged:
                raise DeviceError(
                    "the microphone gives no more sound",
                    where=self.name,
                    remedy="check its plug or switch it on",
                )
            try:
                sound = self._said.get_nowait()
            except queue.Empty:
                yield _quiet(BLOCK / RATE)
                time.sleep(BLOCK / RATE)
                continue
            for start in range(0, len(sound), BLOCK):
                yield sound[start : start + BLOCK]
            self._said.task_done()

    def silent(self) -> bool:
        """Whether all that was to be said has been handed on."""
        return not self._said.unfinished_tasks

    def _work(self, watch) -> None:
        from evidence_app.errors import DeviceError

        # As a real microphone: what is unplugged in the middle is opened again later.
        for block in self.blocks() if not self.unplugged else ():
            watch.arrived(f"{self.name} is heard.")
            if watch.ending:
                return
            self._on_block(block)
        raise DeviceError(sentence("the microphone is not there"), where=self.name)


register_microphone("bench", Mouth)


@cache
def _quiet(seconds: float) -> np.ndarray:
    """The same whenever it comes, so that what is heard does not depend on when it was said."""
    return np.random.default_rng(7).normal(0, 10, int(seconds * RATE)).astype(np.int16)


def spoken(text: str, folder: Path, voice: str = VOICES[0]) -> np.ndarray:
    """``text`` by a synthetic voice: int16 at 16 kHz."""
    path = folder / f"{abs(hash((text, voice)))}.wav"
    if not path.exists():
        subprocess.run(["espeak-ng", "-v", voice, "-s", "150", "-w", path, text], check=True)
    return np.concatenate(list(FileMicrophone(path).blocks()))


class Talk:
    """Speaks to a running app and waits for what follows."""

    def __init__(self, driver, folder: Path) -> None:
        self.driver = driver
        self.hearing = driver.place.hearing
        self._folder = folder
        self.answers: list = []
        inner = self.hearing._answered

        def answered(answer) -> None:
            self.answers.append(answer)
            inner(answer)

        self.hearing._answered = answered
        driver.until(lambda: self.hearing.state() == "listening", "listening")

    def say(self, text: str, voice: str = VOICES[0]):
        """Say it when the app listens; its answer, when everything it led to is done."""
        self.driver.until(
            lambda: self.hearing.state() in ("listening", "heard", "other", "noting", "muted"), "ears"
        )
        listener = self.hearing.listener  # deaf a moment longer than it speaks
        self.driver.until(lambda: listener is None or listener.sign != "speaking", "open ears")
        before = len(self.answers)
        Mouth.here.say(spoken(text, self._folder, voice))
        self.driver.until(lambda: len(self.answers) > before or self._heard_out(), "an answer")
        self.driver.pass_time(0.07)
        self.driver.settle()
        self.driver.look()
        return self.answers[-1] if len(self.answers) > before else None

    def _heard_out(self) -> bool:
        """All that was said has been listened to, and led to nothing."""
        listener = self.hearing.listener
        return listener is None or (Mouth.here.silent() and not listener._waiting.unfinished_tasks)

    def insist(self, text: str):
        """Said again when it was not understood, as a person would."""
        for voice in VOICES:
            answer = self.say(text, voice)
            if answer is not None and answer.kind in ("do", "ask"):
                return answer
        raise AssertionError(f"“{text}” is not understood: {answer}")

    def insist_refused(self, text: str):
        """As ``insist``, but it is to be understood and refused."""
        for voice in VOICES:
            answer = self.say(text, voice)
            if answer is not None and answer.kind != "unheard":
                assert answer.kind == "refused", answer
                return answer
        raise AssertionError(f"“{text}” is not understood: {answer}")


def at_work(session, clock, until_step: str | None = None) -> Path:
    """The folder of a practice job that is prepared, or has come to a step, and was left."""
    folder = jobs_folder() / "job"
    with Job.open(
        folder,
        sample(session.step_list).read_bytes(),
        session.variant,
        session.serial,
        session.claim,
        session.technician,
        True,
        clock,
    ) as job:
        for owed in owed_now(job.step_list, job.state):
            job.do(
                c.AcknowledgeCaution(owed.id) if owed.kind == "caution" else c.TickItem(owed.list, owed.id)
            )
        if until_step is not None:
            _work_to(job, session, clock, until_step)
        job.do(c.Leave())
    return folder


def _work_to(job: Job, session, clock, step: str) -> None:
    camera = Shelf()
    while job.state.step != step:
        owed = next(iter(job.owed), None)
        clock.advance(20)
        if owed is None:
            job.do(c.GoOn())
        elif owed.kind == "reading":
            job.do(c.EnterReading(owed.id, session.readings[owed.id]))
        elif owed.kind == "count":
            listed = {each.thing: each.listed for each in job.step.counts}
            job.do(c.CountPieces(owed.id, listed[owed.id]))
        elif owed.kind == "photo":
            shot = camera.take()
            job.do(c.TakePhoto(shot.data, owed.id, "checkpoint", shot.source))
        elif owed.kind == "hold":
            job.do(c.StartHold())
            clock.advance(job.step.hold.at_least_s + 1)
            job.do(c.EndHold())
        else:
            job.do(c.GiveFinding("clear"))


class Shelf:
    """A camera before which one picture lies; each photo of it has bytes of its own."""

    scene = "slot?side=left&stage=before&seed=62"
    not_taken = ()
    _pictures: dict[str, np.ndarray] = {}  # noqa: RUF012  one rendering for all tests

    def __init__(self, _rest: str = "") -> None:
        from evidence_app.devices.watch import Presence

        self.name = "bench camera"
        self.offers: dict[str, tuple[str, ...]] = {}
        self.chosen: dict[str, str] = {}
        self._presence = Presence("camera", self.name)
        if self.scene not in self._pictures:
            from evidence_app.practice.scenes.named import scene_of

            self._pictures[self.scene] = scene_of(self.scene).picture
        self._picture = self._pictures[self.scene]
        self._small = np.ascontiguousarray(self._picture[::4, ::4])

    def start(self) -> None:
        self._presence.here(f"{self.name} is there.")

    def stop(self) -> None:
        self._presence.ended(f"{self.name} is stopped.")

    def latest(self):
        return self._small

    def take(self, timeout_s: float = 5.0):
        from evidence_app.devices.camera import Shot
        from evidence_app.devices.watch import wall_now
        from evidence_app.photo.encode import encode_jpeg

        data = encode_jpeg(self._picture, wall_now(), uuid.uuid4().hex, self.name, 90)
        return Shot(data, {"kind": "file", "name": self.name})

    def status(self):
        return self._presence.status()

    def listen(self, listener) -> None:
        self._presence.listen(listener)


register_camera("bench", Shelf)
