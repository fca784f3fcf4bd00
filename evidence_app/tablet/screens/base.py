"""What every screen has: a page that scrolls, a row of plates below it."""

from collections.abc import Callable, Iterable
from functools import partial

from kivy.clock import Clock, ClockEvent
from kivy.lang import Builder
from kivy.metrics import dp
from kivy.uix.screenmanager import Screen
from kivy.uix.widget import Widget

from evidence_app.job.rules.owed import owed_anywhere
from evidence_app.language import language, say
from evidence_app.tablet import sealing
from evidence_app.tablet.presenting.theme import SIGNALS
from evidence_app.tablet.presenting.voice import NUMBERED, numbered, with_phrase
from evidence_app.tablet.presenting.working.step import Task
from evidence_app.tablet.widgets import Flow, Page, Panel, Plate, Words, fill
from evidence_app.tablet.widgets.marked import MarkedWords
from evidence_app.tablet.widgets.sizes import sizes
from evidence_app.tablet.widgets.thumbnail import put_thumbnail

_ROOMY = 300_000
"""Area in square dp from which on, at 100 percent, every plate stays in the row."""

MOST_REASONS = 10
"""How many of those typed for one thing are kept to be offered again."""

DISKS_EVERY_S = 2.0
_LEAST_CAUTION = 300  # dp
_LEAST_TILE = 440  # dp


class BaseScreen(Screen):
    """``enter(**given)`` when it is gone to, ``show()`` whenever something changed,
    ``leave()`` before another screen comes. Its ``page`` and ``row`` are named in base.kv."""

    def __init__(self, frame, **given) -> None:
        super().__init__(**given)
        self.frame = frame
        self.place = frame.place
        self._filled: tuple | None = None
        self._clocks: list[ClockEvent] = []

    @property
    def job(self):
        return self.place.job

    def enter(self) -> None:
        self._filled = None
        self.page.scroll_y = 1
        self.disks: tuple = ()

    def show(self) -> None:
        raise NotImplementedError

    def too_soon(self, plate: Plate) -> None:
        """A touch of ``plate`` did not count; it shows that by filling anew."""

    def about(self) -> object:
        """What the plates are about, where their words do not say it: by default the step."""
        return self.job.state.step if self.job is not None else None

    def show_top(self) -> None:
        """Show anew, from the top of the page."""
        self.page.scroll_y = 1
        self.show()

    def leave(self) -> None:
        """Let go of what only this screen needs."""
        while self._clocks:
            self._clocks.pop().cancel()

    def every(self, seconds: float, call: Callable[[], None]) -> None:
        """Have it called again and again until this screen is left."""
        self._clocks.append(Clock.schedule_interval(lambda _: call(), seconds))

    def look_for_disks(self) -> None:
        """See which removable ``disks`` are plugged in."""

        def done(disks: tuple) -> None:
            self.disks = disks
            self.show()

        self.place.worker.run(sealing.removable_disks, done, lambda _: None, thread="camera")

    def phrased(self, words: str, action: str) -> str:
        """``words`` of a plate; where the screen is not in the language of the ear, with the
        phrase that does the same."""
        return with_phrase(words, action) if self.place.settings.listening else words

    def said_with(self, words: str, phrase: str = "") -> str:
        """``words`` of a plate with what may be said for it where nobody could guess that."""
        return f"{words}\n“{phrase}”" if phrase and self.place.settings.listening else words

    def differs(self, *shown) -> bool:
        """Whether what is to be shown is another than what was filled in last."""
        shown = (*shown, language(), sizes.percent, tuple(self.frame.size))
        if shown == self._filled:
            return False
        self._filled = shown
        return True

    def titled(self, title: str, *widgets: Widget) -> None:
        """Fill the page anew: ``title``, and ``widgets`` under it. Those of a list can be chosen by
        their number."""
        listed = (w for w in widgets if isinstance(w, Plate) and not w.disabled and " " in w.action)
        choices = (w for w in listed if w.action.split(" ")[0] in NUMBERED)
        for number, each in enumerate(choices if self.place.settings.listening else (), 1):
            each.said = numbered(number, each.text.split("\n")[0])
            each.text = self.said_with(each.text, *each.said[:1])
        self.page.refill([Words(text=title, role="title"), *widgets])

    def door(self, screen: str, **given: str | None) -> Callable[[], None]:
        """What goes to ``screen`` when it is called."""
        return partial(self.frame.go, screen, **given)

    def back_plate(self, call: Callable[[], None]) -> Plate:
        return plate(say("Back"), "back", call, mark="back")

    def switch(self, name: str, setting: str, mark: str) -> Plate:
        """A setting that is on or off, which a touch changes."""
        return self.turned(name, setting, {True: say("on"), False: say("off")}, mark)

    def turned(self, name: str, setting: str, words: dict, mark: str) -> Plate:
        """A setting with the ``words`` of each of its values; a touch sets the one after the
        present one, and after the last the first."""
        now, values = getattr(self.place.settings, setting), list(words)
        after = values[(values.index(now) + 1) % len(values)] if now in words else values[0]
        shown = f"{name}\n{words.get(now, now)}"
        call = partial(self.place.change_settings, **{setting: after})
        return plate(shown, setting.replace("_", "-"), call, mark=mark)

    def ask(self, asked: str, done: Callable[[str], None], back: Callable[[], None], **given) -> None:
        """Have a text entered, then ``done(text)``; ``given`` is for the entry screen."""
        self.frame.go("entry", asked=asked, done=lambda text, _by: done(text), back=back, **given)

    def ask_reason(
        self,
        what: str,
        asked: str,
        done: Callable[[str], None],
        back: Callable[[], None],
        listed: Iterable[str] = (),
        **given,
    ) -> None:
        """As ``ask``; those ``listed`` in the step list and those that were typed last on this
        tablet for ``what`` are offered to be touched."""
        kept = self.place.settings.reasons
        typed = tuple(reason for reason in kept.get(what, ()) if reason not in listed)

        def entered(reason: str) -> None:
            newest = dict.fromkeys((reason, *typed)) if reason not in listed else typed
            self.place.change_settings(reasons={**kept, what: tuple(newest)[:MOST_REASONS]})
            done(reason)

        self.ask(asked, entered, back, offered=(*listed, *typed), **given)

    def pause(self) -> None:
        """Leave the job as it stands."""
        self.place.put_down(self.door("start"))

    def pause_plate(self) -> Plate:
        return plate(say("Pause the job"), "leave", self.pause, mark="back")

    def entries_plate(self) -> Plate:
        return plate(say("Entries"), "lookback", self.door("lookback"), mark="trail")

    def pictured(self, plate: Plate, sha256: str | None) -> Plate:
        """``plate`` with the small picture of a photo of the job."""
        if sha256:
            put_thumbnail(self.place.worker, plate, self.job.record.path_of(sha256))
        return plate

    def task_plates(self, tasks: Iterable[Task]) -> list[Plate]:
        """What is asked for, one after the other, with the photos that were taken for it."""
        return [self.pictured(task_plate(t, partial(self.go_to, t.action)), t.photo) for t in tasks]

    def go_to(self, action: str) -> None:
        """Do what a task or the plate of the next thing names: the screen of that kind, a photo
        or the camera for it, or a list of what is required."""
        kind, _, name = action.partition(" ")
        if kind == "photo":
            taken = self.job.state.photo_here(name)
            self.frame.go("photo" if taken is not None else "camera", wanted=name)
        elif kind == "owed":
            owed = owed_anywhere(self.job.step_list, self.job.state)
            self.titled(say("Still required"), *(Words(text=say(each.sentence)) for each in owed))
            self._filled = None
        else:
            self.frame.go(kind)

    def note_plate(self) -> Plate:
        words = self.phrased(say("Note"), "start-note")
        return plate(words, "note", self.door("note"), mark="note")

    @property
    def scroll(self) -> Page:
        """The page that takes what the row below it has no room for."""
        return self.page

    @property
    def cramped(self) -> bool:
        """Whether the screen is small, or the text large, so that not every plate has room."""
        width, height = self.frame.size
        return width * height < _ROOMY * dp(1) ** 2 * (sizes.percent / 100) ** 2

    def fill_row(self, *plates: Plate | None, chosen: Iterable[Plate] = ()) -> None:
        """Called after the page is filled. Where it is cramped, only the thing to do next, the way
        back and those to be ``chosen`` from stay in the row; the rest ends the page."""
        there = [p for p in plates if p is not None]
        if self.cramped and len(there) > 2:
            kept = [p for p in there if p.kind in ("main", "stop") or p.action == "back"]
            for other in (p for p in there if p not in kept):
                self.scroll.rows.add_widget(other)
            there = kept
        fill(self.row, [*there, *chosen])


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
    return Panel(head, *told, face=face, border=tone, spacing=4)


def caution_panels(cautions) -> list[Flow]:
    """All cautions of a step side by side where there is room, so that the instruction
    below them is seen without scrolling."""
    panels = [caution_panel(caution) for caution in cautions]
    return [Flow(*panels, least=_LEAST_CAUTION)] if panels else []


def tiles(*plates) -> Flow:
    """Things to choose or tick, two side by side where there is room."""
    return Flow(*plates, least=_LEAST_TILE, most=2, spread=False)


def line_panel(line) -> Panel:
    """A line of what was done: its title, words, and the reasons that were given."""
    kept = [Words(text=kept, tone="clay") for kept in line.kept]
    return Panel(Words(text=line.title, role="lead"), Words(text=line.words), *kept, border="edge")


def task_plate(task: Task, call) -> Plate:
    """A thing the step asks for: its words, then its state in words; the state as a shape."""
    kind = "plain" if task.state in ("next", "open") else "row"
    return plate(f"{task.words}\n{task.state_words}", task.action, call, kind, task.state)


Builder.load_file(str(__file__).replace(".py", ".kv"))
