"""Small but complete jobs and packages for the tests, made through the real guide.

The step list is the smallest one that has everything a package can hold: a
caution, items, a hold, readings, photos with a measurement and its drawing, a
finding, notes, a ticket and a stop rule. Photos are tiny and therefore fail the
gate's size check: each is kept with a reason.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import soundfile
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from msgspec import structs

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.package.keys.ticket import make_ticket
from evidence_app.package.seal import SealedPackage, seal_job
from evidence_app.photo.encode import encode_jpeg
from evidence_app.practice.clock import PracticeClock
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.record.event import Instant
from evidence_app.record.record import Record
from evidence_app.steplist.load import loads
from evidence_app.steplist.model import PhotoWanted
from tests import steplists as parts

CLAIM = "NQ-2026-0117"
SERIAL = "H7-004211"
DEPOT = "Northquay Instrument Depot"
TECHNICIAN = "M. Okafor-Lind"
SUPERVISOR = "R. Tavares-Holm"
NOTE = "Lamp held at the left rim."
KEPT = "the only camera at hand is small"
START = "2026-03-02T08:15:30.123+01:00"

STEP_LIST = parts.step_list(
    "ossmere-h7-slot-look",
    "Ossmere H7: look into a tab slot",
    parts.device("Ossmere handheld chart terminals"),
    parts.SPRUNG_STAND,
    parts.LAMP,
    parts.COUNTED,
    parts.step(
        "press-lining",
        "Press the lining",
        "Press the lining flat by hand.",
        parts.hold("Lining stamp pressed flat by hand", 10.0),
        parts.reading(
            "lamp-distance", "Distance of the lamp", 'unit = "mm"\nat-least = 50\nat-most = 200\n'
        ),
        more='cautions = ["sprung-stand"]\ncounts = [{ thing = "rim-screws", out = 4 }]\n',
    ),
    parts.step(
        "inspect-slot",
        "Inspect the slot",
        "Look into the slot. Put nothing into it.",
        parts.checkpoint(
            "Is the slot empty down to the floor?",
            parts.photo(
                "slot-floor",
                "Slot from straight above, floor in focus",
                'scale-card = true\nmeasurement = { kind = "gap", unit = "mm", at-most = 0.5 }\n',
            ),
            parts.photo("slot-rim", "Rim of the slot from straight above"),
            not_clear='{ stop = "slot-residue" }',
            cannot_tell='{ redo-from = "inspect-slot", redo-limit = 2, then-stop = "slot-residue" }',
        ),
        more='counts = [{ thing = "rim-screws", in = 4 }]\n',
    ),
    parts.stop_rule(
        "slot-residue",
        "Residue is seen in a tab slot.",
        "Exchange the whole unit.",
        parts.stop_photo("residue-close", "The residue as close as the camera focuses"),
        more='prohibitions = ["No retrieval through the slot."]\n',
    ),
    parts.stop_rule(
        "stopped",
        "The technician stops the repair.",
        "Tag the unit and hand it to the supervisor.",
        more='prohibitions = ["Do not go on with this unit."]\n',
    ),
).encode()

BOOT = "7d0c6fa5-3c0e-4c1e-9a39-1b2f4f6a8e10"

_SOURCE = {"kind": "file", "name": "test camera"}


class QuickClock(SystemClock):
    """A clock set by hand that counts as the machine's own, so that a job made
    with it is not a practice job and its holds take no real time."""

    def __init__(self, start: str = START) -> None:
        self.hands = PracticeClock(start)

    def now(self) -> Instant:
        self.hands.advance(0.25)
        return structs.replace(self.hands.now(), boot=BOOT)


def make_key(seed: int = 1) -> SigningKey:
    """A device key; the same each time for the same seed (0 to 255)."""
    return SigningKey(Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32))


def photo(seed: int, width: int = 96, height: int = 72) -> bytes:
    """A sound JPEG of blurred noise, its bytes different for each seed."""
    noise = np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)
    frame = cv2.GaussianBlur(noise, (0, 0), 2)
    return encode_jpeg(frame, START, f"{seed:032x}", "test camera")


def photo_by(camera: str) -> bytes:
    """A sound JPEG whose Exif names that camera."""
    return encode_jpeg(np.full((72, 96, 3), 90, np.uint8), START, f"{77:032x}", camera)


def note(seed: int, seconds: float = 0.5) -> bytes:
    """A FLAC note, 16 kHz mono, its bytes different for each seed."""
    noise = np.random.default_rng(seed).integers(-800, 800, round(seconds * 16_000))
    file = io.BytesIO()
    soundfile.write(file, noise.astype(np.int16), 16_000, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def make_closed_job(
    folder: Path,
    *,
    outcome: str = "completed",
    practice: bool = False,
    depot_key: SigningKey | None = None,
    claim: str = CLAIM,
    photo_size: tuple[int, int] = (96, 72),
    extra_photos: int = 0,
    close: bool = True,
    step_list: bytes = STEP_LIST,
    taken: Callable[[int], bytes] | None = None,
    measure: Callable[..., Any] | None = None,
    ticket: tuple[bytes, bytes] | None = None,
    start: str = START,
) -> Path:
    """Run a job to its end in ``folder`` and let go of it; returns ``folder``.

    ``outcome`` is completed, stopped (by the finding) or abandoned. With
    ``depot_key`` the job opens a ticket of that depot, else ``ticket`` where there is one, with ``extra_photos`` it
    has that many more as notes, and with ``close`` False it is left just before
    its end. ``taken`` gives the photos by their number, ``measure`` measures on them.
    """
    clock = QuickClock(start)
    arguments = (step_list, None, SERIAL, claim, TECHNICIAN, practice, clock)
    with Job.open(folder, *arguments, measure=measure or measure_fixed) as job:
        if depot_key is not None:
            ticket = make_ticket(depot_key, DEPOT, claim, clock)
        if ticket is not None:
            job.do(c.OpenTicket(*ticket))
        taken = taken or (lambda seed: photo(seed, *photo_size))
        _run(job, clock.hands, outcome, taken, extra_photos)
        if not close:
            job.do(c.Leave())
        elif outcome == "abandoned":
            job.do(c.Abandon("the unit was called back by the claimant"))
        else:
            job.do(c.Close())
    return folder


def open_record(job_folder: Path, clock: Clock | None = None) -> Record:
    """The record of a made job, for reading only."""
    return Record.open(job_folder, clock or SystemClock(), read_only=True)


def seal(
    job_folder: Path, out_folder: Path, key: SigningKey | None = None, step_list: bytes = STEP_LIST
) -> SealedPackage:
    """Seal a made job."""
    with open_record(job_folder) as record:
        return seal_job(record, loads(step_list, "step list"), key or make_key(), out_folder)


def make_package(folder: Path, *, key: SigningKey | None = None, **of_the_job: Any) -> SealedPackage:
    """Make a job below ``folder`` and seal it there; options as make_closed_job."""
    made = make_closed_job(folder / "job", **of_the_job)
    return seal(made, folder / "out", key, of_the_job.get("step_list", STEP_LIST))


def _run(
    job: Job, hands: PracticeClock, outcome: str, taken: Callable[[int], bytes], extra_photos: int
) -> None:
    finding = "not-clear" if outcome == "stopped" else "clear"
    seeds = iter(range(1, 1000))
    _meet_all(job, hands, finding, seeds, taken)
    job.do(c.GoOn())
    _meet_all(job, hands, finding, seeds, taken)
    job.do(c.WriteNote(NOTE))
    for _ in range(extra_photos):
        job.do(c.TakePhoto(taken(next(seeds)), None, "note", dict(_SOURCE)))
    job.do(c.GoOn())
    _meet_all(job, hands, finding, seeds, taken)


def _meet_all(job: Job, hands: PracticeClock, finding: str, seeds, taken) -> None:
    while job.owed:
        _meet(job, hands, job.owed[0], finding, seeds, taken)


def _meet(job: Job, hands: PracticeClock, owed, finding: str, seeds, taken) -> None:
    match owed.kind:
        case "caution":
            job.do(c.AcknowledgeCaution(owed.id))
        case "item":
            job.do(c.TickItem(owed.list, owed.id))
        case "hold":
            job.do(c.StartHold())
            hands.advance(11)
            job.do(c.EndHold())
        case "reading":
            job.do(c.EnterReading(owed.id, "120"))
        case "count":
            job.do(c.CountPieces(owed.id, 4))
        case "photo" if owed.photo is not None:
            job.do(c.KeepPhoto(owed.photo, KEPT))
        case "photo":
            purpose = "stop-reason" if job.state.stop else "checkpoint"
            job.do(c.TakePhoto(taken(next(seeds)), owed.id, purpose, dict(_SOURCE)))
        case "finding":
            _speak(job, hands, next(seeds))
            job.do(c.GiveFinding(finding))
        case "spoken-reason":
            _speak(job, hands, next(seeds))
        case "name":
            job.do(c.GiveName(owed.id, SUPERVISOR))


def _speak(job: Job, hands: PracticeClock, seed: int) -> None:
    started = job.do(c.StartNote())[-1]
    hands.advance(0.5)
    job.do(c.FinishNote(started.body["note"], note(seed), 0.5))


def measure_fixed(
    data: bytes, wanted: PhotoWanted, reference: bytes | None, second: bytes | None
) -> tuple[dict[str, Any], bytes]:
    """Stands where the measuring room stands: a fixed result and a real drawing."""
    frame = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    frame = cv2.resize(frame, (96, 72))
    cv2.line(frame, (5, 5), (60, 5), (255, 255, 255), 1)
    result = {
        "kind": "gap",
        "unit": "mm",
        "value": 0.21,
        "U": 0.06,
        "conformity": "within",
        "at_least": wanted.measurement.at_least,
        "at_most": wanted.measurement.at_most,
        "method": "fixed for the test",
        "sentence": "The gap is 0.21 mm, U = 0.06 mm, within 0.5 mm.",
    }
    return result, cv2.imencode(".png", frame)[1].tobytes()
