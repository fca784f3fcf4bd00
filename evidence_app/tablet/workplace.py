"""What is open on the tablet: the job, its devices, the settings and the notices.

Knows no Kivy. Called on the UI thread only; everything slow runs on the worker, and
``changed`` is called when something that screens show is different.
"""

import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from evidence_app import language, locations
from evidence_app.errors import EvidenceError, StorageFull
from evidence_app.job import commands as c
from evidence_app.job.rules.owed import owed_anywhere
from evidence_app.package.seal import SealedPackage
from evidence_app.record.clock import SystemClock
from evidence_app.sentence import sentence
from evidence_app.system_calls import give_memory_back
from evidence_app.tablet.draft import clear_draft
from evidence_app.tablet.ear.engine import Engine
from evidence_app.tablet.ear.hearing import Hearing
from evidence_app.tablet.ear.recounting import Recounting
from evidence_app.tablet.ear.speaking import Speaking
from evidence_app.tablet.ear.transcribing import Transcribing
from evidence_app.tablet.eye.sensing import Sensing
from evidence_app.tablet.presenting import notices as n
from evidence_app.tablet.presenting.opening.start import NewJob
from evidence_app.tablet.presenting.problem import problem_words
from evidence_app.tablet.sealing import sealed_before
from evidence_app.tablet.settings import Settings, save_settings
from evidence_app.tablet.worker import Worker

TAKE_BACK_S = 5.0


class Workplace:
    """``job`` is the job.guide.Job that is open, or None; ``doing`` how many commands that
    change what the screens mean have not answered yet."""

    def __init__(
        self,
        settings: Settings,
        worker: Worker,
        clock=None,
        camera: str | None = None,
        microphone: str | None = None,
    ) -> None:
        self.settings = settings
        self.worker = worker
        self.clock = clock or SystemClock()
        self.job: Any = None
        self.doing = 0
        self.new_job = NewJob(technician=settings.technician)
        self.sealed: SealedPackage | None = None
        self.notices: dict[str, n.Notice] = {}
        self.changed: Callable[[], None] = lambda: None
        self.home: Callable[[], None] = lambda: None
        self.sensing = Sensing(self, camera, microphone)
        self.engine = Engine()
        self.hearing = Hearing(self)
        self.speaking = Speaking(self, self.hearing.own_sound, self.hearing.hears)
        self.transcribing = Transcribing(self)
        self.recounting = Recounting(self)
        self.actions: dict[str, Callable[[], None]] = {
            "recheck-disk": self.look_at_machine,
            n.OFFER: lambda: self.take_back(self.home),
        }
        language.use(settings.language)

    @property
    def practice(self) -> bool:
        return self.job.state.practice if self.job is not None else self.settings.practice

    # --- jobs -----------------------------------------------------------------------

    def open_job(self, then: Callable[[], None]) -> None:
        """Open a job by what ``new_job`` holds; practice when the settings say so."""
        chosen = self.new_job
        practice = self.settings.practice
        clock = self.clock
        self.notices = {}

        def work():
            from evidence_app.job.running.guide import Job

            folder = locations.new_job_folder(chosen.claim, chosen.serial)
            job = Job.open(
                folder,
                chosen.step_list.path.read_bytes(),
                chosen.variant,
                chosen.serial,
                chosen.claim,
                chosen.technician,
                practice,
                clock,
                measure=self._measure(),
                beside=chosen.step_list.path.parent,
            )
            clear_draft()
            self.worker.report(lambda: self.change_settings(technician=chosen.technician))
            if chosen.ticket is not None:
                try:
                    signature = Path(f"{chosen.ticket}.sig").read_bytes()
                    job.do(c.OpenTicket(chosen.ticket.read_bytes(), signature))
                except (OSError, EvidenceError) as error:
                    problem = error
                    if isinstance(error, OSError):
                        why = (error.strerror or "").lower()
                        told = sentence("the ticket cannot be read ({problem})", problem=why)
                        problem = EvidenceError(told)
                    self.worker.report(lambda: self.refused(problem))
            return job

        self.command(work, lambda job: self._opened(job, then), self.refused)

    def resume(self, folder: Path, then: Callable[[], None]) -> None:
        """Take up the job in ``folder`` exactly where it stands."""
        clock = self.clock
        self.notices = {}

        def work():
            from evidence_app.job.running.guide import Job

            return Job.resume(folder, clock, measure=self._measure())

        def done(job) -> None:
            self._opened(job, then)
            if job.state.phase != "closed":
                self.tell(n.told("resumed", events=job.state.sequence, photos=len(job.state.photos)))
                since = [e for e in job.record.events if e.kind == "job-resumed"][-1].sequence
                for event in job.record.events[since - 1 :]:
                    self._tell_event(event)

        self.command(work, done, self.refused)

    def put_down(self, then: Callable[[], None]) -> None:
        """Leave the job; it is taken up again at the same step."""
        job = self.job
        if job is None:
            then()
            return
        self.sensing.end()
        self.end_voice()

        def work():
            if job.state.phase != "closed":
                job.do(c.Leave())
            job.close()

        def done(_) -> None:
            self.job, self.sealed, self.notices = None, None, {}
            then()
            self.changed()

        self.command(work, done, self.refused)

    def command(self, work: Callable, done: Callable, failed: Callable) -> None:
        """Do ``work`` on the job's thread; until it answered, no place takes a touch."""
        self.doing += 1

        def answered(then: Callable, answer: object) -> None:
            self.doing -= 1
            then(answer)

        self.worker.run(work, lambda found: answered(done, found), lambda no: answered(failed, no))

    def do(
        self,
        command: c.Command,
        then: Callable[[], None] = lambda: None,
        refused: Callable[[EvidenceError], None] | None = None,
        spoken: bool = False,
    ) -> None:
        """Have the job carry out ``command``; what it refuses is told as a notice.
        ``spoken``: it was said, and is echoed and offered to be taken back by voice too."""
        job = self.job
        self.notices.pop("refused", None)

        def done(events) -> None:
            for event in events:
                self._tell_event(event)
            self._offer_take_back(() if spoken else events)
            if not spoken:
                self.hearing.moved_on(events)
            then()
            self.recounting.recorded(events, spoken)
            self.transcribing.look()
            self.changed()

        def work():
            events = job.do(command)
            if isinstance(command, c.TakePhoto):
                give_memory_back()
            return events

        # One may go on to look around while a photo is stored and judged.
        run = self.worker.run if isinstance(command, c.TakePhoto) else self.command
        run(work, done, refused or self.refused)

    def take_back(self, then: Callable[[], None]) -> None:
        if self.job is None:
            return
        of = self.job.state.can_take_back(self.job.now())
        self.notices.pop(n.OFFER, None)
        if of is not None:
            self.do(c.TakeBack(of), then)
        else:
            self.changed()

    # --- notices ----------------------------------------------------------------------

    def tell(self, notice: n.Notice) -> None:
        self.notices[notice.key] = notice
        self.changed()

    def dismiss(self, key: str) -> None:
        if self.notices.pop(key, None) is not None:
            self.changed()

    def refused(self, error: EvidenceError) -> None:
        if isinstance(error, StorageFull):
            self.look_at_machine()
        self.tell(n.refusal_notice(problem_words(error)))

    def look_at_machine(self) -> None:
        """Disk and battery; cheap, called every few seconds."""
        import psutil

        free, job = self.free_bytes(), self.job
        owed = owed_anywhere(job.step_list, job.state) if job is not None else ()
        photos_ahead = sum(o.kind == "photo" for o in owed)
        battery = getattr(psutil, "sensors_battery", lambda: None)()
        self.set_notice("disk", n.disk_notice(free, photos_ahead))
        low = n.battery_notice(battery.percent, battery.power_plugged) if battery else None
        self.set_notice("battery", low)

    def set_notice(self, key: str, notice: n.Notice | None) -> None:
        """Show, replace or take away the notice of ``key``; tells only a difference."""
        if self.notices.get(key) != notice:
            if notice is None:
                self.notices.pop(key, None)
            else:
                self.notices[key] = notice
            self.changed()

    def free_bytes(self) -> int:
        folder = locations.home()
        while not folder.exists():
            folder = folder.parent
        return shutil.disk_usage(folder).free

    # --- settings -----------------------------------------------------------------------

    def change_settings(self, **new: object) -> None:
        self.settings = msgspec.structs.replace(self.settings, **new)
        language.use(self.settings.language)
        if "listening" in new:
            self.hearing.end()
            self.hearing.begin()
        try:
            save_settings(self.settings)
        except EvidenceError as error:
            self.refused(error)
        self.changed()

    def card_serial(self) -> str | None:
        """The confirmed scale card that jobs measure with, if the list of cards can be read."""
        from evidence_app.job.running.scale_cards import serial_in_use

        try:
            return serial_in_use()
        except EvidenceError:  # told when the card is chosen, and in place of a measurement
            return None

    def next_card(self) -> None:
        """Measure with the next confirmed card; after the last one with none."""
        from evidence_app.job.running.scale_cards import confirmed_cards, serial_in_use, use_card

        try:
            serials = [None, *sorted(confirmed_cards())]
            use_card(serials[(serials.index(serial_in_use()) + 1) % len(serials)])
        except EvidenceError as error:
            self.refused(error)

    def end_voice(self) -> None:
        """Nothing that was asked of a job holds any more, nor is anything of it said or written down."""
        (self.hearing.clear if self.settings.listening else self.hearing.end)()
        self.speaking.end()
        self.transcribing.end()

    # --- inside ---------------------------------------------------------------------------

    def _opened(self, job, then: Callable[[], None]) -> None:
        self.job, self.sealed = job, sealed_before(job.state, self.settings.packages())
        self.look_at_machine()
        then()
        if job.state.phase != "closed":
            self.hearing.begin()
            self.transcribing.begin_anew()
            self.transcribing.look()
            self.recounting.job_opened()
        self.changed()

    def _tell_event(self, event) -> None:
        notice = n.event_notice(event)
        if notice is not None:
            self.notices[notice.key] = notice

    def _offer_take_back(self, events) -> None:
        """For five seconds after an entry that the technician made."""
        job = self.job
        sequence = job.state.can_take_back(job.now()) if job else None
        made = next((e for e in events if e.sequence == sequence), None)
        self.set_notice(n.OFFER, None if made is None else n.take_back_notice())
        self._take_back_until = time.monotonic() + TAKE_BACK_S

    def tick(self) -> None:
        """Once a second: the offer to take back goes, devices are looked at."""
        if n.OFFER in self.notices and time.monotonic() >= self._take_back_until:
            self.dismiss(n.OFFER)
        self.sensing.look()
        self.recounting.tick()

    def _measure(self):
        """What measures on photos. Where its library is broken the job goes on without, and
        that is told."""
        try:
            from evidence_app.job.running.scale_cards import card_in_use
            from evidence_app.photo.measure import measure
        except ImportError as error:
            problem = EvidenceError(
                sentence(
                    "nothing can be measured on photos: a library is missing or broken ({problem})",
                    problem=error,
                ),
                remedy=sentence("install the app again; until then judge by eye and use the feeler gauge"),
            )
            self.worker.report(lambda: self.refused(problem))
            return None

        def measured(data, wanted, reference, second):
            return measure(data, wanted, reference, card_in_use(), second)

        return measured
