"""Open jobs, a new job, and the door to settings."""

from kivy.uix.widget import Widget

from evidence_app.language import say
from evidence_app.locations import jobs_folder
from evidence_app.sentence import sentences_beside
from evidence_app.tablet.draft import draft_path
from evidence_app.tablet.presenting.opening.start import MOST_JOBS, JobRow, found_rows, job_rows
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Flow, Panel, Plate, Words

_LEAST_PART = 300  # dp


class StartScreen(BaseScreen):
    """``_sought``: words that the jobs shown have; typed right away, or with the keys on the
    screen. Only then all jobs are looked through, since each has to be read for it."""

    def enter(self, sought: str = "") -> None:
        super().enter()
        self._rows: tuple[JobRow, ...] | None = None
        self._sought, self._every = sought, bool(sought)
        self._look()

    def _look(self) -> None:
        packages, most = self.place.settings.packages(), None if self._every else MOST_JOBS
        self.place.worker.run(
            lambda: job_rows(jobs_folder(), packages, most), self._found, self.place.refused
        )

    def _found(self, rows) -> None:
        self._rows = rows
        self.show()

    def show(self) -> None:
        if not self.differs(self._rows, self._sought, self.place.settings):
            return
        widgets: list[Widget] = []
        if self._rows is None:
            widgets.append(Words(text=say("Looking for jobs …")))
        elif not self._rows:
            widgets += [Words(text=say("There is none yet. Begin with a new job.")), _way()]
        else:
            shown = found_rows(self._rows, self._sought)
            widgets += [self._field(len(shown)), *(self._job(row) for row in shown)]
        self.titled(say("Jobs on this tablet"), *widgets)
        new = say("Go on with the new job") if draft_path().exists() else say("New job")
        self.fill_row(
            plate(new, "new", self.door("newjob"), "main"),
            plate(say("Show all jobs"), "show-all", lambda: self._seek("")) if self._sought else None,
            plate(say("Settings"), "settings", self.door("settings"), mark="slides"),
        )

    # --- finding a job -------------------------------------------------------------------

    def _field(self, found: int) -> Plate:
        words = say("Find a job by serial number, claim, step list or technician")
        if self._sought:
            words = say("Jobs with “{words}”: {count}", words=self._sought, count=found)
        return plate(words, "find", self._ask, mark="glass")

    def _ask(self) -> None:
        def seek(words: str) -> None:
            self.frame.go("start", sought=words)

        sought = self._sought
        asked = say("Serial number, claim, step list or technician")
        self.ask(asked, seek, lambda: seek(sought), main=say("Find"), given=sought)

    def typed(self, text: str) -> None:
        if self._rows:
            self._seek((self._sought + text).lstrip())

    def rub_out(self) -> None:
        self._seek(self._sought[:-1])

    def _seek(self, words: str) -> None:
        self._sought = words
        self.page.scroll_y = 1
        if words and not self._every:
            self._every = True
            self._look()
        self.show()

    def _job(self, row) -> Plate:
        lines = [row.title, row.words, row.safe]
        if row.practice:
            lines.insert(1, say("Practice"))
        return Plate(
            text="\n".join(line for line in lines if line),
            kind="plain",
            mark="done" if row.closed else "next",
            disabled=not row.usable,
            action=f"job {row.folder.name}",
            call=lambda: self.place.resume(row.folder, self.frame.home),
        )


def _way() -> Flow:
    """How a job goes, for whoever opens one for the first time."""
    panels = []
    for part in sentences_beside(__file__)["way"].values():
        title = Words(text=say(part["head"]), role="lead", tone="brass")
        panels.append(Panel(title, Words(text=say(part["words"])), border="edge"))
    return Flow(*panels, least=_LEAST_PART)
