"""The end of a job: what was shown for each checkpoint, where the package can go."""

from __future__ import annotations

from pathlib import Path

from msgspec import Struct

from evidence_app.job.route import photos_at, steps_of
from evidence_app.job.state import JobState
from evidence_app.steplist.model import StepList
from evidence_app.tablet.presenting.step import finding_words
from evidence_app.tablet.presenting.words import bare, say, say_many


class CheckpointLine(Struct, frozen=True):
    title: str
    words: str
    kept: tuple[str, ...]


class Finishing(Struct, frozen=True):
    title: str
    lead: str
    checkpoints: tuple[CheckpointLine, ...]
    outside: tuple[str, ...]


def finishing(step_list: StepList, state: JobState) -> Finishing:
    lines = []
    for step in steps_of(step_list, state.variant):
        wanted = photos_at(step)
        if not wanted or step.id not in state.visited:
            continue
        photos = [p for w in wanted if (p := state.photo_of(step.id, w.id)) is not None]
        kept = tuple(say("Kept with the reason: {reason}", reason=p.kept)
                     for p in photos if p.kept is not None)
        lines.append(CheckpointLine(bare(step.title), _shown(state, step.id, len(photos)), kept))
    outside = tuple(
        say("{name}: {value}, recorded as outside its limits", name=r.reading,
            value=f"{r.value} {r.unit or ''}".strip())
        for r in state.readings if r.within is False
    )
    if state.phase == "closed":
        title = {"completed": say("The job is completed"), "stopped": say("The repair was stopped"),
                 "abandoned": say("The job was abandoned")}[state.outcome or "completed"]
        lead = say("Seal it now. Nothing can be added any more.")
    else:
        title = say("Everything owed is there")
        lead = say("Look it over once more. Closing ends the job; nothing can be added afterwards.")
    return Finishing(title, lead, tuple(lines), outside)


def _shown(state: JobState, step: str, photos: int) -> str:
    taken = say_many("{count} photo", "{count} photos", photos)
    given = state.finding_of(step)
    if given is None:
        return say("{photos}; no finding", photos=taken)
    return say("{photos}; finding: {finding}", photos=taken,
               finding=finding_words(given.finding))


# --- where the package goes -----------------------------------------------------------


class Destination(Struct, frozen=True):
    """A folder that the package can be written to; ``removable``: a disk to take away."""

    words: str
    folder: Path
    removable: bool


def destinations(folder: Path, disks: list[Path]) -> tuple[Destination, ...]:
    """This tablet's own folder first, where the desk fetches it, then removable disks."""
    own = Destination(say("On this tablet, waiting to be fetched"), folder, False)
    return (own, *(Destination(say("On the removable disk {name}", name=disk.name), disk, True)
                   for disk in disks))


def progress_words(done: int, total: int) -> str:
    share = 100 * done // total if total else 100
    return say("Sealing: {share} %, {done} of {total} MB", share=share,
               done=f"{done / 1e6:.1f}", total=f"{total / 1e6:.1f}")
