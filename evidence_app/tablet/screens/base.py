"""What every screen has: a page that scrolls, a row of plates below it."""

from collections.abc import Callable

from kivy.lang import Builder
from kivy.metrics import dp
from kivy.properties import ObjectProperty
from kivy.uix.screenmanager import Screen

from evidence_app.language import language, say
from evidence_app.tablet.presenting.theme import SIGNALS
from evidence_app.tablet.presenting.voice import with_phrase
from evidence_app.tablet.presenting.working.step import Task
from evidence_app.tablet.widgets import Flow, Page, Panel, Plate, Words, fill
from evidence_app.tablet.widgets.marked import MarkedWords
from evidence_app.tablet.widgets.sizes import sizes
from evidence_app.tablet.widgets.thumbnail import put_thumbnail

_ROOMY = 300_000
"""Area in square dp from which on, at 100 percent, every plate stays in the row."""

_LEAST_CAUTION = 300  # dp
_LEAST_TILE = 440  # dp


class BaseScreen(Screen):
    """``enter(**given)`` when it is gone to, ``show()`` whenever something changed,
    ``leave()`` before another screen comes."""

    page = ObjectProperty()
    row = ObjectProperty()
    column = ObjectProperty()

    def __init__(self, frame, **given) -> None:
        super().__init__(**given)
        self.frame = frame
        self.place = frame.place
        self._filled: tuple | None = None

    @property
    def job(self):
        return self.place.job

    def enter(self) -> None:
        self._filled = None
        self.page.scroll_y = 1

    def show(self) -> None:
        raise NotImplementedError

    def too_soon(self, plate: Plate) -> None:
        """A touch of ``plate`` did not count; it shows that by filling anew."""

    def about(self) -> object:
        """What the plates are about, where their words do not say it: by default the step."""
        return self.job.state.step if self.job is not None else None

    def leave(self) -> None:
        """Let go of what only this screen needs."""

    def phrased(self, words: str, action: str) -> str:
        """``words`` of a plate; where the screen is not in the language of the ear, with the
        phrase that does the same."""
        return with_phrase(words, action) if self.place.settings.listening else words

    def differs(self, *shown) -> bool:
        """Whether what is to be shown is another than what was filled in last."""
        shown = (*shown, language(), sizes.percent, tuple(self.frame.size))
        if shown == self._filled:
            return False
        self._filled = shown
        return True

    def switch(self, name: str, setting: str, action: str, mark: str) -> Plate:
        """A setting that is on or off, which a touch changes."""
        on = getattr(self.place.settings, setting)
        words = f"{name}\n" + (say("on") if on else say("off"))
        return plate(words, action, lambda: self.place.change_settings(**{setting: not on}), mark=mark)

    def next_of(self, name: str, values: tuple) -> None:
        """Set the value after the present one; after the last the first."""
        now = getattr(self.place.settings, name)
        at = values.index(now) if now in values else -1
        self.place.change_settings(**{name: values[(at + 1) % len(values)]})

    def ask(self, asked: str, done: Callable[[str], None], back: Callable[[], None], **given) -> None:
        """Have a text entered, then ``done(text)``; ``given`` is for the entry screen."""
        self.frame.go("entry", asked=asked, done=lambda text, _by: done(text), back=back, **given)

    def pause(self) -> None:
        """Leave the job as it stands."""
        self.place.put_down(lambda: self.frame.go("start"))

    def pause_plate(self) -> Plate:
        return plate(say("Pause the job"), "leave", self.pause, mark="back")

    def entries_plate(self) -> Plate:
        return plate(say("Entries"), "lookback", lambda: self.frame.go("lookback"), mark="trail")

    def pictured(self, plate: Plate, sha256: str | None) -> Plate:
        """``plate`` with the small picture of a photo of the job."""
        if sha256:
            put_thumbnail(self.place.worker, plate, self.job.record.path_of(sha256))
        return plate

    def note_plate(self) -> Plate:
        words = self.phrased(say("Note"), "start-note")
        return plate(words, "note", lambda: self.frame.go("note"), mark="note")

    @property
    def scroll(self) -> Page:
        """The page that takes what the row below it has no room for."""
        return self.page

    def fill_row(self, *plates: Plate | None) -> None:
        """Called after the page is filled. On a small screen, or with large text, only the
        thing to do next and the way back stay in the row; the rest ends the page."""
        there = [p for p in plates if p is not None]
        width, height = self.frame.size
        if width * height < _ROOMY * dp(1) ** 2 * (sizes.percent / 100) ** 2 and len(there) > 2:
            kept = [p for p in there if p.kind in ("main", "stop") or p.action == "back"]
            for other in (p for p in there if p not in kept):
                self.scroll.rows.add_widget(other)
            there = kept
        fill(self.row, there)


def plate(words: str, action: str, call, kind: str = "plain", mark: str = "") -> Plate:
    return Plate(text=words, action=action, call=call, kind=kind, mark=mark)


def caution_panel(caution, role: str = "body") -> Panel:
    """A caution under its signal word, in the safety colour of that word; before a hazard to
    people stands the safety alert sign of ISO 3864-2, which a notice does not have."""
    face, tone = SIGNALS[caution.signal]
    word = say(caution.signal.value)
    if caution.signal == "NOTICE":
        head = Words(text=word, role="lead", tone=tone)
    else:
        head = MarkedWords(text=word, role="lead", tone=tone, mark="alert")
    told = [Words(text=text, role=role, tone=tone) for text in (caution.hazard, caution.avoid)]
    return Panel(head, *told, face=face, spacing=4)


def caution_panels(cautions) -> list[Flow]:
    """All cautions of a step side by side where there is room, so that the instruction
    below them is seen without scrolling."""
    panels = [caution_panel(caution) for caution in cautions]
    return [Flow(*panels, least=_LEAST_CAUTION)] if panels else []


def tiles(*plates) -> Flow:
    """Things to choose or tick, two side by side where there is room."""
    return Flow(*plates, least=_LEAST_TILE, most=2, spread=False)


def task_plate(task: Task, call) -> Plate:
    """A thing the step asks for: its words, then its state in words; the state as a shape."""
    mark = {"owed": "owed", "next": "next", "done": "done", "open": "open"}[task.state]
    kind = "plain" if task.state in ("next", "open") else "row"
    return Plate(
        text=f"{task.words}\n{task.state_words}", action=task.action, kind=kind, mark=mark, call=call
    )


Builder.load_file(str(__file__).replace(".py", ".kv"))
