"""What a rule looks at when it decides on a command, and how it answers."""

from typing import Any

from msgspec import Struct

from evidence_app.errors import Refused
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import step_named
from evidence_app.job.state.facts import Photo
from evidence_app.job.state.job_state import JobState
from evidence_app.record.event import Draft, Instant
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.steplist.model import Step, StepList

_WHY = sentences_beside(__file__)

APP = "app"
"""Actor of what the app adds by itself."""


class Stored(Struct, frozen=True):
    """What the guide knows of a command's bytes once they are in the store.

    ``refs`` names the originals by their part in the event (photo, audio,
    ticket, signature, markup) where there is one; ``facts`` holds what was read from the bytes.
    """

    refs: dict[str, v.Ref]
    facts: dict[str, Any] = {}


class Situation(Struct, frozen=True):
    """``stored`` is None while a command that carries bytes is only checked."""

    state: JobState
    step_list: StepList
    now: Instant
    stored: Stored | None = None

    @property
    def step(self) -> Step | None:
        """The current step, None before the first."""
        return step_named(self.step_list, self.state.step)

    def photo(self, sha256: str) -> Photo:
        """A photo of this job; refuses where there is none."""
        photo = self.state.photo(sha256)
        if photo is None:
            raise self.worded(_WHY["no-photo"], sha256=sha256[:12])
        return photo

    def draft(self, body: v.Body, actor: str = "technician") -> Draft:
        """An event at the current step."""
        return draft(body, self.state.step, actor)

    def worded(self, why: dict[str, Sentence], /, **values: object) -> Refused:
        """The refusal that ``why`` words, naming the current step; ``values`` as in ``Refused.worded``."""
        return Refused.worded(why, self.where, **values)

    @property
    def where(self) -> Sentence:
        return sentence("step “{title}”", title=self.step.title) if self.step else sentence("job")


def draft(body: v.Body, step: str | None, actor: str = "technician") -> Draft:
    return Draft(v.KINDS[type(body)], v.to_body(body), step, actor)
