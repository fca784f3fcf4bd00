"""A new job: step list, variant, serial, claim, technician, ticket; one thing at a time."""

from functools import partial
from pathlib import Path

import msgspec

from evidence_app import locations
from evidence_app.errors import EvidenceError
from evidence_app.job.rules.entry import plain
from evidence_app.language import say
from evidence_app.sentence import sentences_beside
from evidence_app.tablet.bringing import bring
from evidence_app.tablet.draft import clear_draft, load_draft, save_draft
from evidence_app.tablet.presenting.notices import brought_notice
from evidence_app.tablet.presenting.opening.start import (
    JobRow,
    NewJob,
    StepListChoice,
    job_rows,
    step_list_choices,
)
from evidence_app.tablet.presenting.trust import TicketChoice, proposed_ticket, ticket_choices, tickets_for
from evidence_app.tablet.screens.base import DISKS_EVERY_S, BaseScreen, plate, tiles
from evidence_app.tablet.widgets import Plate, Words
from evidence_app.voice.understanding.grammar import AskedReading
from evidence_app.voice.understanding.words import ENGLISH

_MISSING = sentences_beside(__file__)["missing"]
_SPELLED = {"serial": "Serial number", "claim": "Claim number"}  # as the voice says them


class NewJobScreen(BaseScreen):
    """``_choosing`` is "", "list", "variant", "ticket", "unit" (a practice unit) or "twice" (there is a
    job of this claim and serial number already)."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._choices: tuple[StepListChoice, ...] = ()
        self._units: dict = {}
        self._tickets: tuple[TicketChoice, ...] = ()
        self._choosing = ""
        self._same: tuple[JobRow, ...] = ()

    def enter(self, fresh: bool = True) -> None:
        super().enter()
        self._choosing = ""
        self._fresh = fresh
        if fresh:
            self.place.new_job = self._empty()
        self._look_again()
        self.look_for_disks()
        self.every(DISKS_EVERY_S, self.look_for_disks)

    def _look_again(self) -> None:
        settings = self.place.settings
        self.place.worker.run(lambda: _look(settings), self._found, self.place.refused)

    def _found(self, found) -> None:
        self._choices, self._units, self._tickets, draft = found
        if self._fresh and draft is not None:
            self.place.new_job = draft
        self._fresh = False
        self.show()

    def _empty(self) -> NewJob:
        return NewJob(technician=self.place.settings.technician)

    def _fill(self, **new) -> None:
        """Take over what was chosen or typed, and keep it on disk."""
        self.place.new_job = filled = msgspec.structs.replace(self.place.new_job, **new)
        self.place.worker.run(lambda: save_draft(filled), failed=self.place.refused)

    def _clear(self) -> None:
        self.place.new_job = self._empty()
        self.place.worker.run(clear_draft)
        self.show_top()

    def show(self) -> None:
        new = self.place.new_job
        if not self.differs(new, self._choices, self._choosing, self._tickets, self.disks):
            return
        if self._choosing:
            self._show_choice()
            return
        widgets = [Words(text=say("New job"), role="title")]
        if self._units:
            call = partial(self._choose, "unit")
            widgets.append(plate(say("Load a practice job"), "unit", call, mark="next"))
        fields = [self._choice(say("Step list"), new.step_list.title if new.step_list else "", "list")]
        if new.step_list and new.step_list.variants:
            fields.append(self._choice(say("Variant of the unit"), new.variant_title(), "variant"))
        for name, words, asked in (
            ("serial", say("Serial number"), say("Serial number on the unit")),
            ("claim", say("Claim number"), say("Claim number on the paperwork")),
            ("technician", say("Technician"), say("Your name")),
        ):
            call = partial(self._enter, name, asked, name != "technician")
            fields.append(self._field(words, getattr(new, name), f"enter-{name}", call))
        ticket = self._ticket()
        chosen = ticket.title if ticket else ""
        fields.append(self._choice(say("Depot ticket"), chosen, "ticket", say("none")))
        widgets.append(tiles(*fields))
        if ticket is None:
            words = say(
                "You can work without a depot ticket, but then nothing proves that the job did "
                "not start earlier."
            )
            widgets.append(Words(role="small", text=words))
        self.page.refill(widgets)
        if new.missing is None:
            main = plate(say("Open the job"), "open", self._open, "main")
        else:
            words, call = say(_MISSING[new.missing]), partial(self._fill_in, new.missing)
            main = plate(self.said_with(words, ENGLISH.phrases["fill-in"][0]), "fill-in", call, "main")
        self.fill_row(
            self.back_plate(self.door("start")),
            main,
            None if new == self._empty() else plate(say("Clear the form"), "clear", self._clear),
        )

    def _choice(self, name: str, value: str, what: str, otherwise: str = "") -> Plate:
        """``otherwise`` is shown where there is no ``value``."""
        return self._field(name, value, f"choose-{what}", partial(self._choose, what), otherwise)

    def _field(self, name: str, value: str, action: str, call, otherwise: str = "") -> Plate:
        shown = value or otherwise or say("not chosen yet")
        return plate(f"{name}\n{shown}", action, call, mark="done" if value else "owed")

    @property
    def spelled(self) -> AskedReading | None:
        """What can be spelled aloud now."""
        name = (self.place.new_job.missing or "").removeprefix("enter-")
        asked = _SPELLED.get(name) if not self._choosing else None
        return AskedReading(name, asked, text=True) if asked else None

    def spell(self, name: str, value: str) -> None:
        self._fill(**{name: value})
        self.show()

    def _fill_in(self, missing: str) -> None:
        next(p for p in self.frame.plates() if p.action == missing).call()

    def _show_choice(self) -> None:
        if self._choosing == "list":
            head = say("Which step list?")
            rows = [
                Plate(
                    text=f"{c.title}\n{c.problem or c.path.name}",
                    disabled=c.problem is not None,
                    action=f"list {c.path.stem}",
                    call=lambda c=c: self._chosen(step_list=c, variant=None),
                )
                for c in self._choices
            ]
        elif self._choosing == "variant":
            head = say("Which variant of the unit is it?")
            rows = [
                plate(title, f"variant {key}", partial(self._chosen, variant=key))
                for key, title in self.place.new_job.step_list.variants
            ]
        elif self._choosing == "ticket":
            head = say("Which depot ticket?")
            rows = self._ticket_rows()
        elif self._choosing == "twice":
            head = say("There is a job of this claim and serial number already")
            rows = self._same_rows()
        else:
            head = say("Which practice job?")
            rows = [
                plate(f"{r.session.title}\n{r.session.story}", f"unit {name}", partial(self._unit, r))
                for name, r in self._units.items()
            ]
        if not rows:
            words = say(
                "There is no step list on this tablet. Plug in the depot's disk and take it from there."
            )
            rows = [Words(text=words)]
        if self._choosing in ("list", "ticket"):
            rows += [self._disk_row(number, disk) for number, disk in enumerate(self.disks, 1)]
        self.titled(head, *rows)
        self.fill_row(self.back_plate(lambda: self._choose("")))

    def _choose(self, what: str) -> None:
        self._choosing = what
        self.show_top()

    def _chosen(self, **new) -> None:
        self._fill(**new)
        self._choose("")

    def _unit(self, rehearsal) -> None:
        session = rehearsal.session
        choice = next((c for c in self._choices if c.path.name == session.step_list), None)
        self._chosen(
            step_list=choice,
            variant=session.variant,
            serial=session.serial,
            claim=session.claim,
            technician=session.technician,
        )

    def _enter(self, name: str, asked: str, scan: bool) -> None:
        back = partial(self.frame.go, "newjob", fresh=False)

        def done(value: str) -> None:
            self._fill(**{name: value})
            back()

        self.ask(asked, done, back, scan=scan, given=getattr(self.place.new_job, name))

    # --- ticket --------------------------------------------------------------------------

    def _ticket(self) -> TicketChoice | None:
        new = self.place.new_job
        if new.ticket_chosen:
            fitting = tickets_for(self._tickets, new.claim, new.listed)
            return next((t for t in fitting if t.path == new.ticket), None)
        return proposed_ticket(self._tickets, new.claim, new.listed)

    def _ticket_rows(self) -> list:
        claim, listed = self.place.new_job.claim, self.place.new_job.listed
        rows = []
        for ticket in tickets_for(self._tickets, claim, listed):
            words = say("for claim {claim}", claim=ticket.claim) if ticket.claim else say("for any claim")
            call = partial(self._chosen, ticket=ticket.path, ticket_chosen=True)
            rows.append(plate(f"{ticket.title}\n{words}", f"ticket {ticket.path.stem}", call, mark="next"))
        call = partial(self._chosen, ticket=None, ticket_chosen=True)
        rows.append(plate(say("Without a depot ticket"), "ticket none", call, mark="owed"))
        for ticket in self._tickets:
            name = ticket.path.name
            if ticket.problem is not None:
                told = say("{name} cannot be used: {problem}", name=name, problem=ticket.problem)
                rows.append(Words(text=told, tone="clay"))
            elif ticket.claim not in (None, claim):
                told = say("{name} is for claim {claim}.", name=name, claim=ticket.claim)
                rows.append(Words(text=told, role="small"))
            elif ticket.step_list not in (None, listed):
                told = say("{name} asks for more, by a step list of its own.", name=name)
                rows.append(Words(text=told, role="small"))
        if not self._tickets:
            told = say(
                "There is no depot ticket on this tablet. Plug in the depot's disk with tickets and their"
                " .sig files and take them from there."
            )
            rows.append(Words(text=told))
        return rows

    def _disk_row(self, number: int, disk: Path) -> Plate:
        words = say("Take step lists and tickets from the disk {name}", name=disk.name or disk)
        return plate(words, f"bring {number}", partial(self._bring, disk), mark="folder")

    def _bring(self, disk: Path) -> None:
        def done(brought) -> None:
            self.place.tell(brought_notice(*brought))
            self._look_again()

        self.place.command(lambda: bring(disk), done, self.place.refused)

    def _open(self) -> None:
        ticket = self._ticket()
        self.place.new_job = msgspec.structs.replace(
            self.place.new_job, ticket=ticket.path if ticket else None, ticket_chosen=True
        )
        new, practice = self.place.new_job, self.place.settings.practice
        packages = self.place.settings.packages()
        unit = (plain(new.claim), plain(new.serial))

        def work() -> tuple[JobRow, ...]:
            rows = job_rows(locations.jobs_folder(), packages)
            return tuple(row for row in rows if row.unit == unit and row.practice == practice)

        def found(same: tuple[JobRow, ...]) -> None:
            self._same = same
            if same:
                self._choose("twice")
            else:
                self.place.open_job(self.frame.home)

        self.place.command(work, found, self.place.refused)

    def _same_rows(self) -> list[Plate]:
        rows = [
            plate(
                say("Open it: {title}", title=row.title) + f"\n{row.words} {row.safe}",
                f"same {number}",
                partial(self.place.resume, row.folder, self.frame.home),
                mark="done" if row.closed else "next",
            )
            for number, row in enumerate(self._same, 1)
        ]
        words = say("Open another job of the same unit\nFor when it came back under the same claim.")
        return [*rows, plate(words, "open-twice", lambda: self.place.open_job(self.frame.home))]


def _look(settings):
    """Step lists, practice units and tickets on this tablet."""
    folders = [locations.home() / "step-lists"]
    units = {}
    if settings.practice:
        from evidence_app.tablet.eye.rehearsal import rehearsals

        units = rehearsals()
        try:
            folders += [locations.sample(each) for each in (".", "lesson")]
        except EvidenceError:
            units = {}
    key_list = Path(settings.key_list) if settings.key_list else None
    choices = step_list_choices(tuple(folders))
    tickets = ticket_choices(locations.home() / "tickets", key_list)
    return choices, units, tickets, load_draft(choices)
