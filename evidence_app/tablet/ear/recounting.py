"""What is read aloud of itself: the step that was entered, results, a hold that is over.

Knows no Kivy. ``recorded`` is told of the events of every command, whoever gave it.
"""

from evidence_app.job.speech.aloud import aloud, results_aloud, to_prepare
from evidence_app.job.speech.named import ITEMS
from evidence_app.sentence import sentence
from evidence_app.tablet.place import Place

_AFTER_SPOKEN_S = 5.2
"""A step is read only when what led to it can no longer be taken back by voice."""
HOLD_OVER = sentence("The hold is long enough.")
NOT_MET = sentence("The hold does not count and must be repeated.")
_TOLD = {
    "note-lost": sentence("No sound of the note was recorded."),
    "photo-kept": sentence("The photo is kept."),
}


class Recounting:
    def __init__(self, place: Place) -> None:
        self._place = place
        self._hold_told: int | None = None
        self._prepared = ""  # what was told last before the work

    def job_opened(self) -> None:
        self._prepared = ""
        if self._place.job.state.phase == "working":
            self._step()
        else:
            self.prepare()

    def prepare(self, spoken: bool = False, again: bool = False) -> None:
        """Before the work: tell what is to be acknowledged or ticked now, where that is another
        than was told last, or ``again``."""
        job, settings = self._place.job, self._place.settings
        if job.state.phase != "preparing" or (settings.spoken != "all" and not settings.listening):
            return
        name, text = to_prepare(job.step_list, job.state)
        if again or name != self._prepared:
            self._prepared = name
            if not spoken:
                self._place.speaking.hush()
            self._place.speaking.recite(name, text, silently=name != ITEMS)

    def recorded(self, events, spoken: bool) -> None:
        """``spoken``: the command was given by voice."""
        speaking = self._place.speaking
        self.prepare(spoken)
        results = results_aloud(events)
        if results:
            speaking.answer(" ".join(results))
        for event in events:
            if event.kind == "step-entered":
                if spoken:
                    self._place.hearing.later(_AFTER_SPOKEN_S, self._step)
                else:
                    speaking.hush()
                    self._step()
            elif event.kind == "repair-stopped":
                speaking.aloud(sentence("The repair is stopped. {what}", what=event.body["disposition"]))
            elif event.kind == "hold-ended" and not event.body["met"]:
                speaking.answer(NOT_MET)
            elif event.kind in _TOLD:
                speaking.answer(_TOLD[event.kind])

    def tick(self) -> None:
        """Once a second: a hold that has become long enough is told, once."""
        job = self._place.job
        hold = job.state.hold if job is not None else None
        if hold is None or hold.sequence == self._hold_told:
            return
        if job.state.hold_remaining(job.now()) == 0:
            self._hold_told = hold.sequence
            self._place.speaking.aloud(HOLD_OVER)

    def _step(self) -> None:
        job = self._place.job
        if job is None or job.state.phase != "working":
            return
        self._place.speaking.aloud(aloud("step-entered", job.step_list, job.state, job.now()))
