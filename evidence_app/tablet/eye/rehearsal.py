"""What the practice camera sees and the practice voice says, taken from a session script.

A practice job that carries the claim of a sample session shows that session's scenes;
any other shows those of the first session with the same step list.
"""

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.running.guide import Job
from evidence_app.language import language
from evidence_app.locations import sample
from evidence_app.practice.scenes.named import with_key
from evidence_app.practice.session import (
    LESSONS,
    SESSIONS,
    Session,
    Visit,
    load_session,
    since_entering,
    takes_of,
)

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
            since = since_entering(job.record.events, job.state.step)
            takes = self._visit(job).takes
        scenes = takes.get(wanted) or (self.session.scenes.get(wanted, _ANY_SCENE),)
        scene = scenes[min(takes_of(wanted, since), len(scenes) - 1)]
        # Each take is another picture even of the same scene.
        return with_key(scene, f"take={job.state.sequence}")

    def words(self, job: Job) -> str:
        """What is said in a note here."""
        if job.state.stop is not None:
            return (self.session.after_stop.says if self.session.after_stop else "") or _ANY_WORDS
        return self._visit(job).says or _ANY_WORDS

    def _visit(self, job: Job) -> Visit:
        return self.session.visit_at(job.state.step or "", job.record.events)


def rehearsals() -> dict[str, Rehearsal]:
    """The sample sessions and the lesson by name; those that are not installed are left out."""
    found = {}
    for name in (*SESSIONS, LESSONS[language()]):
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
