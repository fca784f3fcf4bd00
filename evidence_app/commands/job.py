"""``evidence-app job``: run a step list on one device from the command line.

The same guide as behind the tablet. Each call takes the job up where it
stands, does one thing, says what was recorded and what is owed next.
"""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from evidence_app.commands.shared.capturing import record_note, take_shot
from evidence_app.commands.shared.entering import Seconds, bytes_of
from evidence_app.commands.shared.job_said import (
    PHASES,
    detail,
    say_cautions,
    say_damage,
    say_owed,
    say_standing,
    whose,
)
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.devices.named import open_microphone
from evidence_app.errors import EvidenceError, RecordError, Refused
from evidence_app.job import commands as c
from evidence_app.job.rules.owed import owed_now
from evidence_app.job.running.guide import Job
from evidence_app.job.running.opening import peek, standing
from evidence_app.job.vocabulary import FindingWord, Purpose
from evidence_app.language import say, say_many
from evidence_app.locations import jobs_folder, new_job_folder
from evidence_app.record.clock import SystemClock
from evidence_app.record.record import Record
from evidence_app.sentence import sentence, sentences_beside
from evidence_app.steplist.model import PhotoWanted

_JOB = click.argument("job", metavar="JOB")
_WORDS = sentences_beside(__file__)


@click.group()
def job() -> None:
    """Run a step list on one unit from the command line.

    JOB is the folder of a job, or its name as `job list` shows it.
    """


@job.command("open")
@click.argument("step_list", type=PATH)
@click.option("--serial", required=True, help="Serial number of the unit.")
@click.option("--claim", required=True, help="Number of the warranty claim.")
@click.option("--technician", required=True, help="Who does the repair.")
@click.option("--variant", help="Variant of the unit, when the step list has variants.")
@click.option("--folder", type=PATH, help="Where to keep the job.")
@click.option("--practice", is_flag=True, help="Practice: the package can never pass for evidence.")
def open_job(
    step_list: Path,
    serial: str,
    claim: str,
    technician: str,
    variant: str | None,
    folder: Path | None,
    practice: bool,
) -> None:
    """Open a job by STEP_LIST on one unit."""
    data, beside = bytes_of(step_list), step_list.parent
    folder = folder or new_job_folder(claim, serial)
    with Job.open(
        folder, data, variant, serial, claim, technician, practice, SystemClock(), _measure, beside
    ) as job:
        tell_user("job opened in {folder}", folder=folder)
        say_standing(job)


@job.command("list")
def list_jobs() -> None:
    """List the jobs in the jobs folder and where each stands."""
    there = jobs_folder().iterdir() if jobs_folder().is_dir() else ()
    folders = sorted(path for path in there if path.is_dir())
    if not folders:
        tell_user("no jobs in {folder}", folder=jobs_folder())
    for folder in folders:
        try:
            step_list, state = peek(folder)
        except EvidenceError as error:
            click.echo(f"{folder.name}: {error.sentence(say=say)}")
            continue
        where = say("at step {step}", step=state.step)
        where = where if state.phase == "working" else say(PHASES[state.phase])
        safe = say_many("{count} photo safe", "{count} photos safe", len(state.photos))
        click.echo(f"{folder.name}: {whose(step_list, state)}: {where}, {safe}")


@job.command()
@_JOB
def show(job: str) -> None:
    """Show where JOB stands, without taking it up.

    Exit status 1 when its journal or its originals are damaged.
    """
    with Record.open(folder_of(job), SystemClock(), read_only=True) as record:
        step_list, state = standing(record)
        damage = (*record.damage, *record.check_originals())
    click.echo(whose(step_list, state))
    at = say(", step {step}", step=state.step) if state.step else ""
    click.echo(say(PHASES[state.phase]) + at)
    kept = sum(note.heard in ("recorded", "written") for note in state.notes)
    parts = (
        say_many("{count} event", "{count} events", state.sequence),
        say_many("{count} photo", "{count} photos", len(state.photos)),
        say_many("{count} note", "{count} notes", kept),
    )
    tell_user("safe: {parts}", parts=", ".join(parts))
    for photo in state.photos:
        judged = say("passes") if photo.passes else say("does not pass")
        tell_user(
            "photo {photo}: {wanted}, step {step}, {judged}",
            photo=photo.sha256[:12],
            wanted=photo.wanted or say("note"),
            step=photo.step,
            judged=say("kept with a reason") if photo.kept else judged,
        )
    for owed in owed_now(step_list, state):
        say_owed(owed)
    say_damage(damage)
    if damage:
        raise SystemExit(1)


@job.command()
@_JOB
@click.argument("caution", required=False)
def acknowledge(job: str, caution: str | None) -> None:
    """Acknowledge one CAUTION by its id; without one, show the next that must be read.

    Cautions are read and acknowledged one at a time; each answer shows the next in full.
    """
    with _taken_up(job) as guide:
        if caution:
            _do(guide, c.AcknowledgeCaution(caution))
        owed = next((o.id for o in guide.owed if o.kind == "caution"), None)
        if owed is not None:
            say_cautions(guide, owed)
            click.echo(guide.step_list.defers_to)
            tell_user("read it, then: {command}", command=f"evidence-app job acknowledge {job} {owed}")


@job.command()
@_JOB
@click.argument("items", nargs=-1, required=True)
def tick(job: str, items: tuple[str, ...]) -> None:
    """Tick ITEMS (tools, consumables, new parts) by their ids."""
    with _taken_up(job) as guide:
        lists = {o.id: o.list for o in guide.owed if o.id is not None and o.list is not None}
        for item in items:
            if item not in lists:
                known = ", ".join(lists) or sentence("nothing is required")
                raise EvidenceError.worded(_WORDS["no-item"], sentence("items"), item=item, value=known)
            _do(guide, c.TickItem(lists[item], item))


@job.command("next")
@_JOB
def go_on(job: str) -> None:
    """Go on to the next step."""
    _one(job, c.GoOn())


@job.command("back")
@_JOB
def go_back(job: str) -> None:
    """Go back one step, to look at it again."""
    _one(job, c.GoBack())


@job.command()
@_JOB
@click.argument("wanted")
@click.argument("camera")
@click.option(
    "--wait", type=Seconds(), default=60.0, show_default=True, help="Seconds to wait for the camera."
)
def photo(job: str, wanted: str, camera: str, wait: float) -> None:
    """Take the photo WANTED with CAMERA.

    WANTED is the id of the photo that is owed, or "-" for one added as a note.
    CAMERA is file:PATH, folder:PATH (waits for the next file), camera:0 or
    http://ADDRESS.
    """
    from evidence_app.job.rules.route import wanted_here

    with _taken_up(job) as guide:
        stopped = guide.state.phase == "stopped"
        purpose: Purpose = "stop-reason" if stopped else "checkpoint"
        wanted_id = None if wanted == "-" else wanted
        if wanted_id and wanted_here(guide.step_list, guide.state, wanted_id) is None:
            raise Refused.worded(_WORDS["no-photo"], name=wanted_id)  # before a camera is waited for
        shot = take_shot(camera, wait, lambda report: _do(guide, report))
        _do(guide, c.TakePhoto(shot.data, wanted_id, purpose if wanted_id else "note", shot.source))


@job.command()
@_JOB
@click.argument("photo")
@click.argument("reason")
def keep(job: str, photo: str, reason: str) -> None:
    """Keep PHOTO (the first digits of its SHA-256) although it failed, for REASON."""
    with _taken_up(job) as guide:
        _do(guide, c.KeepPhoto(_photo(guide, photo), reason))


@job.command()
@_JOB
def hold(job: str) -> None:
    """Start the hold of this step, count it down, and end it.

    Control-C is an early release and is recorded as one.
    """
    with _taken_up(job) as guide:
        if guide.state.hold is None:
            _do(guide, c.StartHold())
        try:
            while (left := guide.state.hold_remaining(guide.now())) not in (None, 0):
                click.echo("\r" + say("hold: {left:5.0f} s ", left=left), nl=False)
                time.sleep(min(1.0, left))
        except KeyboardInterrupt:
            click.echo("\n" + say("released early"))
        click.echo()
        _do(guide, c.EndHold())


@job.command()
@_JOB
@click.argument("reading")
@click.argument("value")
@click.option("--outside", is_flag=True, help="The value is outside its limits and is meant so.")
def reading(job: str, reading: str, value: str, outside: bool) -> None:
    """Enter VALUE for READING."""
    _one(job, c.EnterReading(reading, value, "typed", outside))


@job.command()
@_JOB
@click.argument("thing")
@click.argument("pieces", type=int)
@click.option("--reason", help="Why the count differs, or why pieces are of another kind.")
@click.option("--other", help="Which pieces are of another kind, in words.")
@click.option("--photo", help="A photo that shows them: the first digits of its SHA-256.")
def count(
    job: str, thing: str, pieces: int, reason: str | None, other: str | None, photo: str | None
) -> None:
    """Enter how many PIECES of a counted THING came out at this step, or went in."""
    with _taken_up(job) as guide:
        _do(guide, c.CountPieces(thing, pieces, reason, other, photo and _photo(guide, photo)))


@job.command()
@_JOB
@click.argument("finding", type=click.Choice(["clear", "not-clear", "cannot-tell"]))
def finding(job: str, finding: FindingWord) -> None:
    """Give the FINDING of this checkpoint."""
    _one(job, c.GiveFinding(finding))


@job.command()
@_JOB
@click.option("--text", help="A written note.")
@click.option("--microphone", metavar="SPEC", help="microphone, microphone:NAME or file:PATH.")
@click.option("--seconds", type=Seconds(), default=60.0, show_default=True, help="Longest note.")
def note(job: str, text: str | None, microphone: str | None, seconds: float) -> None:
    """Add a note: written, or spoken until Control-C."""
    if text is not None and microphone is None:
        _one(job, c.WriteNote(text))
    elif microphone is not None and text is None:
        with _taken_up(job) as guide:
            record_note(guide, open_microphone(microphone), seconds, _do)
    else:
        raise EvidenceError.worded(_WORDS["either"])


@job.command()
@_JOB
@click.argument("reason", required=False)
@click.option("--missing", metavar="THING", help="The counted THING of which a piece is missing.")
def stop(job: str, reason: str | None, missing: str | None) -> None:
    """Stop the repair for REASON, or for a missing piece, under the step list's rule for that."""
    _one(job, c.StopForMissing(missing) if missing else c.StopRepair(reason or ""))


@job.command()
@_JOB
@click.argument("role")
@click.argument("name")
def name(job: str, role: str, name: str) -> None:
    """Give the NAME that a stop asks for, by ROLE (for instance supervisor)."""
    _one(job, c.GiveName(role, name))


@job.command()
@_JOB
@click.argument("event", type=int)
@click.argument("text")
def correct(job: str, event: int, text: str) -> None:
    """State that EVENT (its number) is wrong; it stays as it is, TEXT beside it."""
    _one(job, c.Correct(event, text))


@job.command()
@_JOB
@click.argument("ticket", type=PATH)
def ticket(job: str, ticket: Path) -> None:
    """Add the depot's signed TICKET (its .sig file stands beside it)."""
    _one(job, c.OpenTicket(bytes_of(ticket), bytes_of(ticket.with_name(f"{ticket.name}.sig"))))


@job.command()
@_JOB
def close(job: str) -> None:
    """Close the job when nothing is owed; then it can be sealed."""
    _one(job, c.Close())


@job.command()
@_JOB
@click.argument("reason")
def abandon(job: str, reason: str) -> None:
    """End the job without completing it, for REASON."""
    _one(job, c.Abandon(reason))


def _one(job: str, command: c.Command) -> None:
    with _taken_up(job) as guide:
        _do(guide, command)


def _do(guide: Job, command: c.Command) -> None:
    for event in guide.do(command):
        said = f"{event.kind}{detail(event)}"
        tell_user("recorded {number}: {said}", number=event.sequence, said=said)
        if event.kind == "step-entered" and guide.step is not None:
            say_cautions(guide, *guide.step.cautions)
    if guide.state.phase != "closed":
        say_standing(guide)


def _photo(guide: Job, digits: str) -> str:
    found = [p.sha256 for p in guide.state.photos if p.sha256.startswith(digits.lower())]
    if len(found) != 1:
        raise EvidenceError.worded(_WORDS["not-one-photo"], photo=digits, count=len(found))
    return found[0]


def _measure(data: bytes, wanted: PhotoWanted, reference: bytes | None, second: bytes | None):
    """Loads the measuring room only when a photo is measured."""
    from evidence_app.job.running.scale_cards import card_in_use
    from evidence_app.photo.measure import measure

    return measure(data, wanted, reference, card_in_use(), second)


@contextmanager
def _taken_up(job: str) -> Iterator[Job]:
    folder = folder_of(job)
    with Job.resume(folder, SystemClock(), _measure) as guide:
        if guide.state.phase == "closed":
            raise RecordError.worded(_WORDS["closed"], str(folder))
        say_damage(guide.record.missing)
        yield guide


def folder_of(job: str) -> Path:
    for folder in (Path(job), jobs_folder() / job):
        if job and folder.is_dir():
            return folder
    raise RecordError.worded(_WORDS["no-job"], job)
