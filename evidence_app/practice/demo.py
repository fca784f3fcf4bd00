"""The demo: four sessions through the real pipeline, sealed, checked, one altered.

Each session runs in a process of its own, two at a time, so that its power cuts
are real ones. Everything it makes stays in one folder.
"""

import os
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.running.opening import standing
from evidence_app.language import language, say
from evidence_app.locations import sample
from evidence_app.package.durable import storage_errors
from evidence_app.package.keys.keylist import DeviceKey, KeyList, open_key_list, write_key_list
from evidence_app.package.keys.signing_key import SigningKey, create_key
from evidence_app.package.keys.ticket import make_ticket
from evidence_app.package.seal import SealedPackage, seal_job
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import VerifyResult, lines
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import SESSIONS, Expected, Session, load_session
from evidence_app.practice.technician import LineTold, session_folder
from evidence_app.record.event import Event
from evidence_app.record.record import Record
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.system_calls import KILLED

_WORDS = sentences_beside(__file__)

DEPOT = "Northquay Instrument Depot"
DEVICE_PIN = "604192"
"""The PIN of the demo's device key. It guards nothing and stands in the README."""

_AT_ONCE = 2
_MOST_RESTARTS = 10
Tell = Callable[[str, LineTold], None]
"""The session's name and what it tells."""


class Played(Struct, frozen=True):
    """One session's package, its check, and where it is not as the script expects."""

    name: str
    session: Session
    sealed: SealedPackage
    result: VerifyResult
    surprises: tuple[Sentence, ...]


class Demo(Struct, frozen=True):
    """What the demo made. ``altered`` is the check of the copy with one byte changed."""

    folder: Path
    played: tuple[Played, ...]
    altered_file: str
    altered: VerifyResult

    @property
    def as_expected(self) -> bool:
        sound = all(p.result.exit_status == 0 and not p.surprises for p in self.played)
        return sound and "checksums" in self.altered.failed


def run_demo(folder: Path, tell: Tell) -> Demo:
    """Plays the sessions in ``folder``, which must be absent or empty.

    Raises EvidenceError when a session cannot be played.
    """
    with storage_errors(folder, EvidenceError):
        folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise EvidenceError.worded(_WORDS["not-empty"], str(folder))
    sessions = {name: load_session(sample(f"{name}.session.toml")) for name in SESSIONS}
    key, key_list = _make_keys(folder / "keys", sessions)
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        jobs = list(pool.map(lambda name: _play(name, folder, tell), SESSIONS))
    played = tuple(
        _seal_and_check(name, sessions[name], job, key, key_list, folder, tell)
        for name, job in zip(SESSIONS, jobs, strict=True)
    )
    altered_path, altered_file = _alter_one_byte(played[0].sealed.path, folder / "altered")
    altered = verify(altered_path, key_list, accept_practice=True)
    _keep_result(altered)
    return Demo(folder, played, altered_file, altered)


def _make_keys(folder: Path, sessions: dict[str, Session]) -> tuple[SigningKey, KeyList]:
    """The depot's key and key list, the device's key, and a ticket for each session."""
    folder.mkdir()
    depot = create_key(folder / "depot-private-key.pem", None, unencrypted=True)
    device = create_key(folder / "device-key.pem", DEVICE_PIN)
    first = min(datetime.fromisoformat(s.begins) for s in sessions.values())
    entry = DeviceKey(
        device.sha256,
        "M. Okafor-Lind",
        "practice tablet 1",
        first - timedelta(days=60),
        first + timedelta(days=365),
    )
    key_list = folder / "key-list.toml"
    write_key_list(key_list, DEPOT, first - timedelta(days=50), [entry], depot)
    for name, session in sessions.items():
        yesterday = datetime.fromisoformat(session.begins) - timedelta(days=1)
        clock = PracticeClock(yesterday.isoformat(timespec="milliseconds"))
        ticket, signature = make_ticket(depot, DEPOT, session.claim, clock)
        (folder / f"{name}.ticket.json").write_bytes(ticket)
        (folder / f"{name}.ticket.json.sig").write_bytes(signature)
    return device, open_key_list(key_list)


def _play(name: str, folder: Path, tell: Tell) -> Path:
    """Plays one session in processes of its own, again after each power cut."""
    script = sample(f"{name}.session.toml")
    command = [
        sys.executable,
        "-m",
        "evidence_app.practice.play",
        str(script),
        str(folder / "jobs"),
        str(folder / "keys" / f"{name}.ticket.json"),
    ]
    spoken = {**os.environ, "LANGUAGE": language()}
    for _ in range(_MOST_RESTARTS):
        # A file, not a pipe: nobody reads the complaints while the lines come.
        with tempfile.TemporaryFile("w+") as complaints:
            process = subprocess.Popen(
                command, stdout=subprocess.PIPE, stderr=complaints, text=True, encoding="utf-8", env=spoken
            )
            for line in process.stdout or ():
                tell(name, msgspec.json.decode(line, type=LineTold))
            status = process.wait()
            complaints.seek(0)
            complaint = complaints.read().strip()
        if status == 0:
            return session_folder(folder / "jobs", load_session(script))
        if status not in KILLED:
            told = sentence("the session could not be played: {complaint}", complaint=complaint)
            raise EvidenceError(told, where=script.name)
    raise EvidenceError.worded(_WORDS["killed"], script.name, count=_MOST_RESTARTS)


def _seal_and_check(
    name: str, session: Session, job: Path, key: SigningKey, key_list: KeyList, folder: Path, tell: Tell
) -> Played:
    with Record.open(job, PracticeClock(session.begins)) as record:
        step_list, _ = standing(record)
        sealed = seal_job(record, step_list, key, folder)
        events = record.events
    told = say(
        "sealed: {file}, fingerprint {fingerprint}", file=sealed.path.name, fingerprint=sealed.fingerprint
    )
    tell(name, LineTold(told, notable=True))
    result = verify(sealed.path, key_list, accept_practice=True)
    _keep_result(result)
    return Played(name, session, sealed, result, tuple(_surprises(session, events)))


def _keep_result(result: VerifyResult) -> None:
    Path(f"{result.package}.checked.txt").write_text("\n".join(lines(result, say)) + "\n", "utf-8")


def _surprises(session: Session, events: tuple[Event, ...]) -> list[Sentence]:
    """Where the journal is not what the script says it must show."""
    stops = [e.body["rule"] for e in events if e.kind == "repair-stopped"]
    found = Expected(
        outcome=events[-1].body["outcome"],
        stop_rule=stops[-1] if stops else None,
        retakes=sum(e.kind == "photo-taken" and bool(e.body["retake_of"]) for e in events),
        kept=sum(e.kind == "photo-kept" for e in events),
        restarts=sum(e.kind == "job-resumed" for e in events),
        counts_explained=sum(e.kind == "pieces-counted" and bool(e.body["reason"]) for e in events),
        early_releases=sum(e.kind == "hold-ended" and not e.body["met"] for e in events),
    )
    shown, wanted = msgspec.to_builtins(found), msgspec.to_builtins(session.expected)
    return [
        sentence("{key}: expected {wanted}, found {found}", key=key, wanted=value, found=shown[key])
        for key, value in wanted.items()
        if value != shown[key]
    ]


def _alter_one_byte(package: Path, folder: Path) -> tuple[Path, str]:
    """A copy of ``package`` in ``folder`` with one byte of its largest photo changed.

    The ZIP's own checksum is made to fit again, as anybody who re-packs it would.
    """
    folder.mkdir()
    target = folder / package.name
    with zipfile.ZipFile(package) as source, zipfile.ZipFile(target, "w") as copy:
        photos = [i for i in source.infolist() if "/data/photos/" in i.filename]
        victim = max(photos, key=lambda info: info.file_size)
        for info in source.infolist():
            data = bytearray(source.read(info))
            if info is victim:
                data[len(data) // 2] ^= 0x01
            copy.writestr(info, bytes(data))
    return target, victim.filename
