"""The start: open jobs and where they stand, and what a new job still needs."""

from pathlib import Path

from msgspec import Struct

from evidence_app.errors import EvidenceError, JobInUse
from evidence_app.job.rules.entry import plain
from evidence_app.job.running.opening import standing
from evidence_app.language import say
from evidence_app.reading import sha256_of
from evidence_app.record.clock import SystemClock
from evidence_app.record.record import Record
from evidence_app.steplist.load import load
from evidence_app.steplist.model import StepList
from evidence_app.tablet.copies import copied_when
from evidence_app.tablet.presenting.problem import problem_words
from evidence_app.tablet.presenting.working.standing import safe_words, where_words
from evidence_app.tablet.sealing import sealed_before
from evidence_app.writing import bare

MOST_JOBS = 50
"""How many are shown while none is sought."""


class JobRow(Struct, frozen=True):
    """``usable`` is false for a folder that cannot be read; ``words`` then says why. ``unit``:
    its claim and serial number, as they are compared. ``sought``: what it can be found by."""

    folder: Path
    title: str
    words: str
    safe: str = ""
    usable: bool = False
    closed: bool = False
    practice: bool = False
    unit: tuple[str, str] = ("", "")
    sought: str = ""


def job_rows(folder: Path, packages: Path, most: int | None = MOST_JOBS) -> tuple[JobRow, ...]:
    """The newest ``most`` jobs in the jobs folder or all, open ones before closed ones."""
    if not folder.is_dir():
        return ()
    found = sorted(
        (p for p in folder.iterdir() if p.is_dir()), key=lambda p: p.stat().st_mtime, reverse=True
    )[:most]
    copied = copied_when()
    return tuple(sorted((_row(path, packages, copied) for path in found), key=lambda row: row.closed))


def found_rows(rows: tuple[JobRow, ...], words: str) -> tuple[JobRow, ...]:
    """Those that have every one of ``words``, in any case, in their serial number, claim, step
    list or technician."""
    sought = words.casefold().split()
    return tuple(row for row in rows if all(word in row.sought for word in sought))


def _row(folder: Path, packages: Path, copied: dict[str, str]) -> JobRow:
    try:
        with Record.open(folder, SystemClock(), read_only=True) as record:
            (step_list, state), day = standing(record), record.events[0].wall[:10]
    except JobInUse:
        return JobRow(folder, folder.name, say("Open in another window of this app."))
    except EvidenceError as error:
        return JobRow(folder, folder.name, problem_words(error))
    opened = state.opened
    assert opened is not None  # no job stands anywhere without its first entry
    title = say(
        "{claim}: {model}, serial {serial}",
        claim=opened.claim,
        model=opened.device.model,
        serial=opened.device.serial,
    )
    where, sealed = where_words(step_list, state), sealed_before(state, packages)
    unit = (plain(opened.claim), plain(opened.device.serial))
    return JobRow(
        folder,
        title,
        f"{day}  ·  {bare(step_list.title)}. {where}.",
        _sealed_words(sealed.fingerprint, copied) if sealed else safe_words(state),
        True,
        state.phase == "closed",
        state.practice,
        unit,
        " ".join((title, *unit, step_list.title, opened.technician)).casefold(),
    )


def _sealed_words(code: str, copied: dict[str, str]) -> str:
    words = say("Sealed: {code}.", code=code)
    when = copied.get(code)
    return f"{words} " + say("Copied {when}.", when=when) if when else words


class StepListChoice(Struct, frozen=True):
    path: Path
    title: str
    variants: tuple[tuple[str, str], ...]
    problem: str | None = None
    sha256: str = ""


def step_list_choices(folders: tuple[Path, ...]) -> tuple[StepListChoice, ...]:
    """The step lists on this tablet; one with a mistake in it is shown with the mistake."""
    paths = [
        path
        for folder in folders
        if folder.is_dir()
        for path in sorted(folder.glob("*.toml"))
        if not path.name.endswith(".session.toml")
    ]
    return tuple(_choice(path) for path in paths)


def _choice(path: Path) -> StepListChoice:
    try:
        step_list: StepList = load(path)
    except EvidenceError as error:
        return StepListChoice(path, path.name, (), problem_words(error))
    variants = tuple((v.id, v.title) for v in step_list.device.variants)
    return StepListChoice(path, bare(step_list.title), variants, None, sha256_of(path))


class NewJob(Struct, frozen=True):
    """What was chosen so far for a job that is not open yet.

    ``ticket`` counts when ``ticket_chosen``; before, the one for the claim is proposed.
    """

    step_list: StepListChoice | None = None
    variant: str | None = None
    serial: str = ""
    claim: str = ""
    technician: str = ""
    ticket: Path | None = None
    ticket_chosen: bool = False

    @property
    def missing(self) -> str | None:
        """The first thing that is still needed: an action's name."""
        if self.step_list is None:
            return "choose-list"
        if self.step_list.variants and self.variant is None:
            return "choose-variant"
        for name in ("serial", "claim", "technician"):
            if not getattr(self, name):
                return f"enter-{name}"
        return None

    @property
    def listed(self) -> str:
        """The SHA-256 of the step list chosen."""
        return self.step_list.sha256 if self.step_list else ""

    def variant_title(self) -> str:
        titles = dict(self.step_list.variants) if self.step_list else {}
        return titles.get(self.variant or "", "")
