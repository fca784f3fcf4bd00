"""Look back: every entry of the job; a photo opened, a note played, an entry corrected."""

from functools import partial

from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.ear.playing import Playing
from evidence_app.tablet.presenting.finish import ledger_lines
from evidence_app.tablet.presenting.working.lookback import detail, found, lines
from evidence_app.tablet.screens.base import BaseScreen, line_panel, plate, tiles
from evidence_app.tablet.widgets import Plate, Words
from evidence_app.writing import duration

_A_PAGE = 12


class LookBackScreen(BaseScreen):
    """Newest entries first, twelve at a time; ``_open`` is the entry looked at."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._of = None
        self._open: int | None = None
        self._playing = Playing(self.place.hearing.own_sound, lambda: self.show())

    def enter(self) -> None:
        super().enter()
        if self._of is not self.job:  # what was looked at is another job's
            self._of = self.job
            self._from, self._open, self._words, self._shown_only = 0, None, "", False

    def leave(self) -> None:
        self._playing.stop()

    def show(self) -> None:
        if self.job is None:
            return
        events = self.job.record.events
        playing = self._playing.of, int(self._playing.seconds)
        if not self.differs(len(events), self._from, self._open, self._words, self._shown_only, playing):
            return
        if self._open is not None:
            self._show_entry(events, self._open)
            return
        every = lines(self.job.step_list, events)
        shown = list(reversed(found(every, events, self._words, self._shown_only)))
        self._from = max(0, min(self._from, len(shown) - 1) // _A_PAGE * _A_PAGE)
        page = shown[self._from : self._from + _A_PAGE]
        told = say("Nothing here can be changed. A correction is a new entry that points at the old one.")
        self.titled(
            say("Entries"),
            Words(text=told, role="small"),
            *self._sought(len(shown)),
            *(self._entry(line) for line in page),
        )
        later = plate(say("Later entries"), "later", lambda: self._turn(-_A_PAGE), mark="back")
        earlier = plate(say("Earlier entries"), "earlier", lambda: self._turn(_A_PAGE), mark="next")
        only = say("All entries") if self._shown_only else say("Photos and notes")
        self.fill_row(
            self.back_plate(self._leave),
            later if self._from else None,
            earlier if self._from + _A_PAGE < len(shown) else None,
            plate(say("Find words"), "find", self._find, mark="glass"),
            plate(say("Counts"), "ledger", self._show_counts) if self.job.step_list.counted else None,
            plate(only, "shown-only", self._toggle, mark="shutter"),
        )

    def _show_counts(self) -> None:
        """What came out of the unit and went in so far."""
        lines = ledger_lines(self.job.step_list, self.job.state)
        self.titled(say("What came out and went in"), tiles(*map(line_panel, lines)))
        self.fill_row(self.back_plate(self.door("lookback")))

    def _entry(self, line) -> Plate:
        words, look = f"{line.head}\n{line.words}", partial(self._look, line.sequence)
        return self.pictured(plate(words, f"entry {line.sequence}", look, "row"), line.photo)

    def _sought(self, count: int) -> list:
        if not self._words:
            return []
        told = say("With “{words}”: {count} entries", words=self._words, count=count)
        return [
            Words(text=told, role="lead", tone="brass"),
            plate(say("Show all entries"), "show-all", lambda: self._seek("")),
        ]

    def _find(self) -> None:
        def done(words: str) -> None:
            self._seek(words)
            self.frame.go("lookback")

        asked = say("Words to find in notes, transcripts and entries")
        self.ask(asked, done, self.door("lookback"), main=say("Find"))

    def _seek(self, words: str) -> None:
        self._words, self._from = words, 0
        self.show()

    def _toggle(self) -> None:
        self._shown_only, self._from = not self._shown_only, 0
        self.show()

    def _leave(self) -> None:
        self._from, self._words, self._shown_only = 0, "", False
        self.frame.home()

    def _turn(self, by: int) -> None:
        self._from += by
        self.show_top()

    def _look(self, sequence: int | None) -> None:
        self._playing.stop()
        self._open = sequence
        self.show_top()

    def _show_entry(self, events, of: int) -> None:
        shown = detail(self.job.step_list, events, of)
        widgets = [Words(text=shown.line.head, tone="brass"), Words(text=shown.line.words, role="title")]
        widgets += [Words(text=text) for text in shown.more]
        self.page.refill(widgets)
        closed = self.job.state.phase == "closed"
        look = self.door("photo", sha256=shown.photo)
        self.fill_row(
            self.back_plate(lambda: self._look(None)),
            plate(say("Open the photo"), "open-photo", look, "main", "shutter") if shown.photo else None,
            self._play_plate(shown.audio) if shown.audio else None,
            *([] if closed else self._correcting(shown, of)),
        )

    def _correcting(self, shown, of: int) -> list[Plate]:
        made = [plate(say("Add a correction"), "correct", partial(self._correct, of), mark="pencil")]
        if shown.transcript is not None:
            call = partial(self._correct_transcript, shown)
            words = say("Correct the transcript")
            made.insert(0, plate(words, "correct-transcript", call, mark="pencil"))
        return made

    def _play_plate(self, sha256: str) -> Plate:
        if self._playing.of == sha256:
            words = say("Stop playing ({time})", time=duration(self._playing.seconds))
            return plate(words, "stop-playing", self._playing.stop, "main", "speaking")
        return plate(say("Play the note"), "play", lambda: self._play(sha256), "main", "note")

    def _correct_transcript(self, shown) -> None:
        again = self.door("lookback")

        def done(text: str) -> None:
            self.place.do(c.CorrectTranscript(shown.note, text), again)

        self.ask(say("What was really said?"), done, again, given=shown.transcript)

    def _correct(self, of: int) -> None:
        again = self.door("lookback")
        asked = say("What is wrong with entry {number}, and what is right?", number=of)
        self.ask(asked, lambda text: self.place.do(c.Correct(of, text), again), again)

    def _play(self, sha256: str) -> None:
        self.place.speaking.hush()
        try:
            self._playing.play(sha256, self.job.record.path_of(sha256))
        except EvidenceError as error:
            self.place.refused(error)
