"""Open jobs, a new job, and the door to settings."""

from evidence_app.language import say
from evidence_app.locations import jobs_folder
from evidence_app.tablet.draft import draft_path
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Flow, Panel, Plate, Words

_LEAST_PART = 300  # dp


class StartScreen(BaseScreen):
    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._rows = None

    def enter(self) -> None:
        super().enter()
        self._rows, packages = None, self.place.settings.packages()

        def work():
            from evidence_app.tablet.presenting.opening.start import job_rows

            return job_rows(jobs_folder(), packages)

        self.place.worker.run(work, self._found, self.place.refused)

    def _found(self, rows) -> None:
        self._rows = rows
        self.show()

    def show(self) -> None:
        if not self.differs(self._rows, self.place.settings):
            return
        widgets = [Words(text=say("Jobs on this tablet"), role="title")]
        if self._rows is None:
            widgets.append(Words(text=say("Looking for jobs …")))
        elif not self._rows:
            widgets += [Words(text=say("There is none yet. Begin with a new job.")), _way()]
        else:
            widgets += [self._job(row) for row in self._rows]
        self.page.refill(widgets)
        self.fill_row(
            plate(
                say("Go on with the new job") if draft_path().exists() else say("New job"),
                "new",
                lambda: self.frame.go("newjob"),
                "main",
            ),
            plate(say("Settings"), "settings", lambda: self.frame.go("settings"), mark="slides"),
        )

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
    for head, words in (
        (say("Before"), say("Cautions are read one by one; tools and new parts are ticked.")),
        (
            say("At each step"),
            say(
                "One instruction; then the photo, the reading or the hold that it requires, and a "
                "finding in words."
            ),
        ),
        (
            say("At the end"),
            say(
                "The job is sealed with this tablet's key. Everything before that is already safe on disk."
            ),
        ),
    ):
        title = Words(text=head, role="lead", tone="brass")
        panels.append(Panel(title, Words(text=words), border="edge"))
    return Flow(*panels, least=_LEAST_PART)
