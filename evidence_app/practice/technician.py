"""A practice technician: runs a session script through a real job.

Looks at what the job owes and does it, one thing after the other, as a person
would; only the script's visits make it do something else. It keeps nothing in
mind but the script: after a power cut it reads from the job's own record where
it stands.
"""

import os
import time
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from msgspec import Struct

from evidence_app.devices.camera import Shot
from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from evidence_app.job.rules.owed import Owed
from evidence_app.job.running.guide import Job
from evidence_app.job.running.noting import begin_note
from evidence_app.job.vocabulary import Purpose
from evidence_app.language import reworded
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.scenes.named import with_key
from evidence_app.practice.session import AfterStop, Session, Visit, since_entering, takes_of
from evidence_app.prepared import prepare
from evidence_app.record.event import Event
from evidence_app.sentence import sentence, sentences_beside, verbatim
from evidence_app.steplist.model import FINDINGS, Hold
from evidence_app.system_calls import KILL

_OVER_MINIMUM_S = 3.0
"""How long a hold is kept beyond its minimum, by habit."""

_NOTE_SAVED_AFTER_S = 1.2
_MOST_RETAKES = 3  # of the script's last scene, each with another grain and hand
_MOST_ACTIONS = 2000
"""A script that leads in circles is given up after so many actions."""

_WORDS = sentences_beside(__file__)
_BATTERY_DIES, _STUCK = _WORDS["battery-dies"], _WORDS["stuck"]


class LineTold(Struct, frozen=True):
    """What a session tells, said in the language in use. ``notable`` is what is out of the
    ordinary; ``step`` the number of a step entered and how many there are."""

    text: str
    notable: bool = False
    step: tuple[int, int] | None = None


Tell = Callable[..., None]
"""Hears a sentence of one thing done; ``notable`` and ``step`` as in ``LineTold``."""


Eyes = Callable[[str, str], Shot]
"""The practice camera: makes a photo of the scene that is put before it, at a wall time."""

Speech = Callable[[str], np.ndarray]
"""The practice voice: mono samples at 16 kHz, int16, for a sentence."""


class PracticeTechnician:
    """Works ``job`` to its end. ``tell`` gets one line for each thing done."""

    def __init__(
        self,
        session: Session,
        job: Job,
        clock: PracticeClock,
        eyes: Eyes,
        speech: Speech,
        tell: Tell,
        ticket: Path | None = None,
    ) -> None:
        self._session = session
        self._job = job
        self._clock = clock
        self._eyes = eyes
        self._speech = speech
        self._tell = tell
        self._ticket = ticket

    def work(self) -> None:
        """Does what is owed until the job is closed.

        Raises EvidenceError when the script does not lead to an end.
        """
        for _ in range(_MOST_ACTIONS):
            if self._job.state.phase == "closed":
                return
            self._clock.advance(self._session.pace_s)
            self._one_action()
        raise EvidenceError.worded(_STUCK["endless"], self._session.title, count=_MOST_ACTIONS)

    def _one_action(self) -> None:
        phase = self._job.state.phase
        if phase == "preparing":
            self._prepare()
        elif phase == "working":
            self._work_at_step()
        else:
            self._after_stop(self._session.after_stop or AfterStop())

    # --- preparing ----------------------------------------------------------------

    def _prepare(self) -> None:
        if self._ticket is not None and self._job.state.ticket is None:
            signature = self._ticket.with_name(f"{self._ticket.name}.sig").read_bytes()
            self._job.do(c.OpenTicket(self._ticket.read_bytes(), signature))
            self._tell(sentence("the depot's ticket is in the journal"))
        owed = self._job.owed
        if not owed:
            self._job.do(c.GoOn())
            self._tell_step()
            return
        for item in owed:
            self._clock.advance(2)
            if item.list is None:
                self._job.do(c.AcknowledgeCaution(item.id or ""))
            else:
                self._job.do(c.TickItem(item.list, item.id or ""))
        told = sentence("{count} cautions, tools and parts acknowledged one by one", count=len(owed))
        self._tell(told)

    # --- at a step ----------------------------------------------------------------

    def _work_at_step(self) -> None:
        step = self._job.state.step or ""
        since = since_entering(self._events(), step)
        visit = self._session.visit_at(step, self._events())
        if visit.clock_set_s is not None and not _of(since, "clock-stepped"):
            self._set_clock(visit.clock_set_s)
        owed = next((o for o in self._job.owed if o.kind != "finding"), None)
        if owed is not None:
            self._show(owed, owed.id or "", visit, since)
        elif visit.says is not None and self._note_due(since):
            self._speak(visit.says, visit, since)
        elif visit.writes and not _of(since, "note-written"):
            self._job.do(c.WriteNote(visit.writes))
            self._tell(sentence("note written: “{text}”", text=visit.writes))
        elif any(o.kind == "finding" for o in self._job.owed):
            self._find(visit)
        elif self._job.ready:
            self._job.do(c.Close())
            self._tell(sentence("job closed: completed"), notable=True)
        else:
            self._job.do(c.GoOn())
            self._tell_step()

    def _show(self, owed: Owed, name: str, visit: Visit, since: list[Event]) -> None:
        step = self._job.step
        if owed.kind == "hold" and step is not None and step.hold is not None:
            self._hold(step.hold, visit, since)
        elif owed.kind == "reading":
            self._read(name, visit)
        elif owed.kind == "count" and step is not None:
            listed = next(each.listed for each in step.counts if each.thing == name)
            said = next((x for x in visit.counts if x.thing == name), c.CountPieces(name, listed))
            self._job.do(said)
            self._tell(sentence("counted {count}: {thing}", count=said.count, thing=name))
        elif (
            owed.photo is not None
            and name in visit.keep
            and takes_of(name, since) >= len(visit.takes.get(name, ()))
        ):
            self._job.do(c.KeepPhoto(owed.photo, visit.keep[name]))
            self._tell(
                sentence("photo kept with a reason: “{reason}”", reason=visit.keep[name]), notable=True
            )
        else:
            self._photograph(name, visit.takes, since, "checkpoint")
            if visit.power_cut == "after-photo" and not _of(since, "job-resumed"):
                self._power_goes(visit.power_cut)

    def _hold(self, hold: Hold, visit: Visit, since: list[Event]) -> None:
        early = None if _of(since, "hold-ended") else visit.early_release_s
        seconds = hold.at_least_s + _OVER_MINIMUM_S if early is None else early
        if self._job.state.hold is None:
            self._job.do(c.StartHold())
        if visit.power_cut == "in-hold" and not _of(since, "job-resumed"):
            self._clock.advance(hold.at_least_s / 2)
            self._power_goes(visit.power_cut)
        self._clock.advance(seconds)
        events = self._job.do(c.EndHold())
        if events[-1].body["met"]:
            self._tell(sentence("held for {seconds:g} s: long enough", seconds=seconds))
        else:
            early_end = sentence("held for {seconds:g} s: released too early, owed again", seconds=seconds)
            self._tell(early_end, notable=True)

    def _read(self, reading: str, visit: Visit) -> None:
        value = visit.readings.get(reading, self._session.readings.get(reading))
        if value is None:
            raise EvidenceError.worded(_STUCK["no-value"], self._session.title, id=reading)
        self._job.do(c.EnterReading(reading, value, "typed", confirm_outside=True))
        self._tell(sentence("reading {reading}: {value}", reading=reading, value=value))

    def _find(self, visit: Visit) -> None:
        finding = visit.finding or "clear"
        self._job.do(c.GiveFinding(finding))
        state = self._job.state
        found = sentence("finding at {step}: {finding}", step=state.step, finding=FINDINGS[finding])
        self._tell(found, notable=finding != "clear")
        if (stop := state.stop) is not None:
            by, so = stop.rule, stop.disposition
            self._tell(sentence("STOPPED by rule {rule}: {so}", rule=by, so=so), notable=True)

    def _set_clock(self, seconds: float) -> None:
        wall = datetime.fromisoformat(self._clock.now().wall) + timedelta(seconds=seconds)
        self._clock.set_wall(wall.isoformat(timespec="milliseconds"))
        self._tell(sentence("the tablet's clock is set by {seconds:+g} s", seconds=seconds), notable=True)

    # --- after a stop ---------------------------------------------------------------

    def _after_stop(self, after: AfterStop) -> None:
        owed = next(iter(self._job.owed), None)
        stop = self._job.state.stop
        since = [e for e in self._events() if stop is not None and e.sequence >= stop.sequence]
        if owed is None:
            self._job.do(c.Close())
            self._tell(sentence("job closed: stopped"), notable=True)
        elif owed.kind == "photo":
            self._photograph(owed.id or "", after.takes, since, "stop-reason")
        elif owed.kind == "spoken-reason":
            self._speak(after.says, None, since)
        elif owed.kind == "name":
            role = owed.id or ""
            name = after.names.get(role, "")
            self._job.do(c.GiveName(role, name))
            self._tell(verbatim(f"{role}: {name}"))

    # --- photos and notes -----------------------------------------------------------

    def _photograph(
        self, wanted: str, takes: dict[str, tuple[str, ...]], since: list[Event], purpose: Purpose
    ) -> None:
        taken = takes_of(wanted, since)
        scenes = takes.get(wanted) or (self._scene(wanted),)
        if taken >= len(scenes) + _MOST_RETAKES:
            raise EvidenceError.worded(_STUCK["no-pass"], self._session.title, id=wanted, taken=taken)
        scene = scenes[min(taken, len(scenes) - 1)]
        # Each take is a different picture even of the same scene.
        shot = self._eyes(with_key(scene, f"take={len(self._events())}"), self._clock.now().wall)
        events = self._job.do(c.TakePhoto(shot.data, wanted, purpose, shot.source))
        judged = next(e for e in events if e.kind == "photo-judged")
        if failing := " ".join(reworded(x) for x in judged.body["checks"] if not x["holds"]):
            refused = sentence("photo {wanted} does not pass: {failing}", wanted=wanted, failing=failing)
            self._tell(refused, notable=True)
        else:
            self._tell(sentence("photo {wanted} passes the gate", wanted=wanted))
        for event in _of(events, "measured"):
            self._tell(sentence("measured: {result}", result=reworded(event.body["result"])), notable=True)

    def _scene(self, wanted: str) -> str:
        try:
            return self._session.scenes[wanted]
        except KeyError:
            raise EvidenceError.worded(_STUCK["no-scene"], self._session.title, wanted=wanted) from None

    def _note_due(self, since: list[Event]) -> bool:
        """Said once at each visit; said again when it was cut short."""
        return all(e.body["cut_short"] for e in _of(since, "note-recorded"))

    def _speak(self, text: str, visit: Visit | None, since: list[Event]) -> None:
        recorder = begin_note(self._job)
        samples = self._speech(text)
        for at in range(0, len(samples), 320):
            recorder.write(samples[at : at + 320])
            cut = visit is not None and visit.power_cut == "in-note"
            if cut and at > len(samples) // 2 and not _of(since, "job-resumed"):
                # Real seconds: what a note promises to save is what is older than one.
                time.sleep(_NOTE_SAVED_AFTER_S)
                self._power_goes("in-note")
        done = recorder.finish()
        self._clock.advance(done.seconds)
        self._job.do(c.FinishNote(done.note, done.flac, done.seconds, done.dropouts, done.cut_short))
        self._tell(sentence("note spoken, {seconds:.1f} s: “{text}”", seconds=done.seconds, text=text))

    def _power_goes(self, when: str) -> None:
        self._tell(_BATTERY_DIES[when], notable=True)
        os.kill(os.getpid(), KILL)

    # --- reading the record -----------------------------------------------------------

    def _events(self) -> tuple[Event, ...]:
        return self._job.record.events

    def _tell_step(self) -> None:
        steps = [s.id for s in self._job.steps]
        if (step := self._job.step) is not None:
            place = steps.index(step.id) + 1, len(steps)
            said = sentence(
                "step {number} of {count}: {title}", number=place[0], count=place[1], title=step.title
            )
            self._tell(said, step=place)


def _of(events: Sequence[Event], kind: str) -> list[Event]:
    return [e for e in events if e.kind == kind]


def clock_after(events: tuple[Event, ...], out_s: float) -> PracticeClock:
    """The practice clock after the power was away for ``out_s`` seconds: another
    boot, the wall clock moved on."""
    last = events[-1]
    boots = len({event.boot for event in events})
    clock = PracticeClock(last.wall, boot=f"practice-{boots + 1}")
    clock.advance(out_s)
    return clock


def session_folder(folder: Path, session: Session) -> Path:
    """Where the job of a session is kept."""
    return folder / f"job-{session.claim.lower()}"


prepare(LineTold)
