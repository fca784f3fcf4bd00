"""What the practice camera sees and the practice voice says, taken from a session script.

A practice job that carries the claim of a sample session shows that session's scenes;
any other shows those of the first session with the same step list.
"""

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.running.guide import Job
from evidence_app.locations import sample
from evidence_app.practice.session import Session, Visit, load_session
from evidence_app.record.event import Event

SESSIONS = ("completed", "stopped-at-residue", "power-loss", "retaken-and-gauged")
_ANY_SCENE = "front?seed=1"
_ANY_WORDS = "A practice note."


class Rehearsal(Struct, frozen=True):
    session: Session

    def scene(self, job: Job, wanted: str | None) -> str:
        """What is before the camera now, for the next take of ``wanted``."""
        if wanted is None:
            return _ANY_SCENE
        if job.state.stop is not None:
            after = self.session.after_stop
            takes = after.takes if after else {}
            since = [e for e in job.record.events if e.sequence >= job.state.stop.sequence]
        else:
            since = _since_entering(job)
            takes = self._visit(job).takes
        scenes = takes.get(wanted) or (self.session.scenes.get(wanted, _ANY_SCENE),)
        taken = sum(e.kind == "photo-taken" and e.body["wanted"] == wanted for e in since)
        scene = scenes[min(taken, len(scenes) - 1)]
        # Each take is another picture even of the same scene.
        return f"{scene}{'&' if '?' in scene else '?'}take={job.state.sequence}"

    def words(self, job: Job) -> str:
        """What is said in a note here."""
        if job.state.stop is not None:
            return (self.session.after_stop.says if self.session.after_stop else "") or _ANY_WORDS
        return self._visit(job).says or _ANY_WORDS

    def _visit(self, job: Job) -> Visit:
        step = job.state.step or ""
        entered = [e for e in job.record.events if e.kind == "step-entered" and e.step == step]
        return self.session.visit(step, len(entered))


def rehearsals() -> dict[str, Rehearsal]:
    """The sample sessions by name; those that are not installed are left out."""
    found = {}
    for name in SESSIONS:
        try:
            found[name] = Rehearsal(load_session(sample(f"{name}.session.toml")))
        except EvidenceError:
            continue
    return found


def rehearsal_for(job: Job) -> Rehearsal | None:
    all_of_them = rehearsals().values()
    claim = job.state.opened.claim if job.state.opened else ""
    list_id = job.step_list.id
    return next((r for r in all_of_them if r.session.claim == claim), None) or next(
        (r for r in all_of_them if r.session.step_list == f"{list_id}.toml"), None
    )


def _since_entering(job: Job) -> list[Event]:
    since: list[Event] = []
    for event in job.record.events:
        entered = event.kind == "step-entered" and event.step == job.state.step
        since = [] if entered else [*since, event]
    return since
