"""Plays one session script in one job folder, from wherever the job stands.

Run as a program of its own, so that a power cut in the script is a real one:
the process is killed and played again.

    python -m evidence_app.practice.play SCRIPT FOLDER [TICKET]

Prints each thing done as a ``LineTold`` in JSON, in the language of the environment.
"""

import sys
from functools import partial
from pathlib import Path

import msgspec

from evidence_app.errors import EvidenceError
from evidence_app.job.running.guide import Job, Measure
from evidence_app.job.running.opening import peek
from evidence_app.job.running.scale_cards import card_by_rule
from evidence_app.language import of_the_system, say, use
from evidence_app.locations import sample
from evidence_app.photo.measure import measure
from evidence_app.practice.camera import photograph
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.microphone import speech
from evidence_app.practice.session import Session, load_session
from evidence_app.practice.technician import LineTold, PracticeTechnician, Tell, clock_after, session_folder
from evidence_app.record.record import Record
from evidence_app.sentence import Sentence, sentence


def play(script: Path, folder: Path, tell: Tell, ticket: Path | None = None) -> Path:
    """Plays ``script`` to its end in ``folder``; the job's folder.

    A job that is there already is taken up where it stands, some time later
    and after a restart of the machine. Raises EvidenceError.
    """
    session = load_session(script)
    job_folder = session_folder(folder, session)
    job, clock = (
        _take_up(session, job_folder, tell) if job_folder.exists() else _begin(session, job_folder, tell)
    )
    with job:
        PracticeTechnician(session, job, clock, photograph, speech, tell, ticket).work()
    return job_folder


def _begin(session: Session, folder: Path, tell: Tell) -> tuple[Job, PracticeClock]:
    clock = PracticeClock(session.begins)
    job = Job.open(
        folder,
        sample(session.step_list).read_bytes(),
        session.variant,
        session.serial,
        session.claim,
        session.technician,
        True,
        clock,
        _measure(session),
    )
    named = {"title": job.step_list.title, "serial": session.serial, "claim": session.claim}
    tell(sentence("job opened: {title}, serial {serial}, claim {claim}", **named), notable=True)
    return job, clock


def _measure(session: Session) -> Measure:
    card = session.card
    known = card_by_rule(card.serial, card.bar_mm, card.thickness_mm) if card else None
    return partial(measure, card=known)


def _take_up(session: Session, folder: Path, tell: Tell) -> tuple[Job, PracticeClock]:
    _, state = peek(folder)
    with Record.open(folder, PracticeClock(session.begins), read_only=True) as record:
        events = record.events
    clock = clock_after(events, session.visit_at(state.step or "", events).out_s)
    job = Job.resume(folder, clock, _measure(session))
    tell(
        sentence(
            "job resumed at step {step}: {events} entries and {photos} photos are safe",
            step=state.step,
            events=len(events),
            photos=len(state.photos),
        ),
        notable=True,
    )
    return job, clock


def _print(said: Sentence, /, notable: bool = False, step: tuple[int, int] | None = None) -> None:
    print(msgspec.json.encode(LineTold(say(said), notable, step)).decode(), flush=True)


def main() -> int:
    use(of_the_system())
    script, folder, *ticket = (Path(argument) for argument in sys.argv[1:])
    try:
        play(script, folder, _print, *ticket)
    except EvidenceError as error:
        print(error.sentence(say=say), file=sys.stderr)
        return error.exit_status
    return 0


if __name__ == "__main__":
    sys.exit(main())
