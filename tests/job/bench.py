"""A job on the bench: a small step list, small real photos, real notes, often used words."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import soundfile

from evidence_app.job import commands as c
from evidence_app.job.conduct.check import check_conduct
from evidence_app.job.running.guide import Job
from evidence_app.practice.clock import PracticeClock
from tests import steplists as parts

_HEAD = """\
cautions = [
  { id = "cell", signal = "WARNING", hazard = "The cell holds energy", avoid = "Take it out first" },
  { id = "glass", signal = "CAUTION", hazard = "Edges cut", avoid = "Wear gloves" },
]
tools = [{ id = "roller", name = "Roller" }]
consumables = [{ id = "wipes", name = "Lint-free wipes" }]
new-parts = [{ id = "mesh", name = "Mesh strip" }]
"""
_VARIANTS = 'variants = [{ id = "plain", title = "Plain" }, { id = "radio", title = "With radio" }]\n'
_RADIO_ONLY = 'variants = ["radio"]\ncautions = ["glass"]\n'
_MEASURED = 'scale-card = true\nmeasurement = { kind = "gap", unit = "mm", at-most = 0.2 }\n'
_RESIDUE = """\
prohibitions = ["Do not pull anything out through the slot."]
photos = [{ id = "reason", framing = "The residue" }]
names = ["supervisor"]
"""
STEP_LIST = parts.step_list(
    "bench-sample",
    "Sample repair",
    parts.device("Sample terminal", "S1", _VARIANTS),
    parts.step("open", "Open", "Take out the cell and open the case.", more='cautions = ["cell"]\n'),
    parts.step("spacers", "Spacers", "Fit the antenna spacers.", more=_RADIO_ONLY),
    parts.step(
        "clean",
        "Clean",
        "Clean the slot.",
        parts.checkpoint(
            "Is the slot clean?",
            parts.photo("slot", "The whole slot"),
            not_clear='{ stop = "residue" }',
            cannot_tell='{ redo-from = "clean" }',
        ),
    ),
    parts.step(
        "press",
        "Press",
        "Press the strip on.",
        parts.hold("The roller with its own mass", 10, "at-most-s = 60\n"),
        parts.reading("gap", "Gap", 'unit = "mm"\nat-most = 0.2\ndecimals = 2\n'),
        parts.reading("part", "Part number", "text = true\nscan = true\n"),
    ),
    parts.step(
        "inspect",
        "Inspect",
        "Look at the strip.",
        parts.checkpoint(
            "Does the strip lie flat?",
            parts.photo("strip", "The whole strip"),
            parts.photo("seam", "The seam with the card", _MEASURED),
            not_clear='{ redo-from = "press", redo-limit = 2, then-stop = "set-aside" }',
            cannot_tell='{ redo-from = "inspect" }',
        ),
    ),
    parts.step("shut", "Shut", "Close the case."),
    parts.stop_rule("residue", "Residue in the slot", "Exchange the whole unit.", more=_RESIDUE),
    parts.stop_rule(
        "set-aside",
        "The repair cannot go on",
        "Set the unit aside for the supervisor.",
        more="spoken-reason = false\nnames = []\n",
    ),
    stop="set-aside",
    more=_HEAD,
).encode()

SOURCE = {"kind": "practice", "name": "bench camera"}


class Photos:
    """Real JPEGs, each different: sharp ones pass the gate, blurred ones do not."""

    def __init__(self) -> None:
        self._made = 0

    def sharp(self) -> bytes:
        return _jpeg(self._scene())

    def blurred(self) -> bytes:
        return _jpeg(cv2.GaussianBlur(self._scene(), (0, 0), 15))

    def _scene(self) -> np.ndarray:
        self._made += 1
        chance = np.random.default_rng(self._made)
        scene = np.full((900, 1200, 3), 120, np.uint8)
        for _ in range(120):
            x, y, w, h = (int(n) for n in chance.integers((0, 0, 20, 20), (1150, 850, 200, 200)))
            grey = int(chance.integers(30, 220))
            cv2.rectangle(scene, (x, y), (x + w, y + h), (grey,) * 3, -1)
        return scene


def _jpeg(picture: np.ndarray) -> bytes:
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 85])
    assert done
    return data.tobytes()


MEASURED = {
    "kind": "gap",
    "unit": "mm",
    "value": 0.12,
    "U": 0.03,
    "at_least": None,
    "at_most": 0.2,
    "conformity": "within",
    "method": "edge distance on the card's plane",
    "sentence": "The gap is 0.12 mm.",
}


class Bench:
    """A job on the bench, with its photos and its clock, and words for what is done often."""

    def __init__(self, folder: Path, clock: PracticeClock, photos: Photos, **settings) -> None:
        self.folder = folder
        self.clock = clock
        self.photos = photos
        self.settings = settings
        self.job: Job | None = None

    def open(self, variant: str = "plain", step_list: bytes = STEP_LIST) -> Job:
        self.job = Job.open(
            self.folder, step_list, variant, "H7-0001", "C-77", "M. Okafor-Lind", True, self.clock,
            **self.settings,
        )  # fmt: skip
        return self.job

    def resume(self) -> Job:
        """Close without leaving, as when the app dies, and take up again."""
        self.job.close()
        self.job = Job.resume(self.folder, self.clock, **self.settings)
        return self.job

    def do(self, *commands: c.Command) -> tuple:
        """Every event of these commands, two seconds before each."""
        events = ()
        for command in commands:
            self.clock.advance(2)
            events += self.job.do(command)
        return events

    def prepare(self) -> None:
        for owed in self.job.owed:
            if owed.kind == "caution":
                self.do(c.AcknowledgeCaution(owed.id))
            else:
                self.do(c.TickItem(owed.list, owed.id))

    def photo(self, wanted: str | None, purpose: str = "checkpoint", blurred: bool = False) -> str:
        """Takes a photo; its hash."""
        data = self.photos.blurred() if blurred else self.photos.sharp()
        events = self.do(c.TakePhoto(data, wanted, purpose, SOURCE))
        return next(e for e in events if e.kind == "photo-taken").body["photo"]["sha256"]

    def hold(self, seconds: float = 12) -> tuple:
        self.do(c.StartHold())
        self.clock.advance(seconds - 2)
        return self.do(c.EndHold())

    def settle(self) -> None:
        """Does whatever is owed at this step, except the finding."""
        for owed in self.job.owed:
            if owed.kind == "hold":
                self.hold()
            elif owed.id == "gap":
                self.do(c.EnterReading("gap", "0.10"))
            elif owed.kind == "reading":
                self.do(c.EnterReading(owed.id, "MS-4", "scanned"))
            elif owed.kind == "count":
                listed = {each.thing: each.listed for each in self.job.step.counts}
                self.do(c.CountPieces(owed.id, listed[owed.id]))
            elif owed.kind == "photo":
                sha = self.photo(owed.id)
                if not self.job.state.photo(sha).settled:
                    self.do(c.KeepPhoto(sha, "the part is in view"))
                if owed.id == "seam" and self.job.state.photo(sha).measured is None:
                    self.do(c.RecordMeasurement(sha, "seam", MEASURED))

    def pass_step(self) -> None:
        self.settle()
        if any(owed.kind == "finding" for owed in self.job.owed):
            self.do(c.GiveFinding("clear"))
        self.do(c.GoOn())

    def work_to(self, step: str) -> None:
        """Prepares and works through the steps up to ``step``."""
        if self.job.state.phase == "preparing":
            self.prepare()
            self.do(c.GoOn())
        while self.job.step.id != step:
            self.pass_step()

    @staticmethod
    def sound(seconds: float = 1.0) -> bytes:
        """A spoken note's file: FLAC, 16 kHz mono."""
        return _flac(seconds)

    def say(self, seconds: float = 1.0) -> str:
        """Records a spoken note; its id."""
        (started,) = self.do(c.StartNote())
        note = started.body["note"]
        self.do(c.FinishNote(note, self.sound(seconds), seconds))
        return note

    def last(self, kind: str):
        """The newest event of a kind."""
        return next(e for e in reversed(self.job.record.events) if e.kind == kind)

    def breaches(self) -> list[str]:
        """What the conduct check finds in the journal, but for its being open."""
        found = check_conduct(self.job.step_list, self.job.record.events)
        return [str(breach.sentence) for breach in found if breach.sequence is not None]

    def kinds(self) -> list[str]:
        return [event.kind for event in self.job.record.events]


def _flac(seconds: float) -> bytes:
    moments = np.arange(round(16_000 * seconds)) / 16_000
    target = io.BytesIO()
    samples = (8000 * np.sin(2 * np.pi * 220 * moments)).astype(np.int16)
    soundfile.write(target, samples, 16_000, format="FLAC", subtype="PCM_16")
    return target.getvalue()
