"""What is always there around the screens, and the way from one screen to the next."""

from kivy.clock import Clock
from kivy.graphics import Line, Rectangle, Triangle
from kivy.lang import Builder
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout
from kivy.uix.screenmanager import NoTransition, ScreenManager
from kivy.uix.widget import Widget

from evidence_app.language import say
from evidence_app.tablet.ear.by_voice import ByVoice
from evidence_app.tablet.presenting.notices import DISMISS, OFFER, Notice, offer_words
from evidence_app.tablet.presenting.voice import PLATES
from evidence_app.tablet.presenting.working.standing import Standing, standing, unit_words
from evidence_app.tablet.screens import make
from evidence_app.tablet.widgets import Panel, Plate, Words, backed
from evidence_app.tablet.widgets.paint import paint, show_theme
from evidence_app.tablet.widgets.sizes import sizes
from evidence_app.tablet.window.guard import BounceGuard
from evidence_app.tablet.window.offer import HeadPlace  # noqa: F401  for frame.kv
from evidence_app.tablet.window.signal import HoldSignal
from evidence_app.tablet.window.voice_bar import TopRow, VoiceBar, VoiceCard  # noqa: F401  for frame.kv

_LOOK_EVERY_S = 0.05


class Frame(BoxLayout):
    """``go(name, **given)`` shows a screen; ``act(action)`` presses the plate of that name. The
    parts that stand around the screens are named in frame.kv."""

    def __init__(self, place, **given) -> None:
        super().__init__(**given)
        self.place = place
        self._headed = None
        place.changed = Clock.create_trigger(lambda _: self.refresh(), 0)
        place.home = self.home
        self.screens = ScreenManager(transition=NoTransition())
        self.middle.add_widget(self.screens)
        self._notices: list[Notice] = []
        self._signal, self._signalled = HoldSignal(), None
        self.by_voice = ByVoice(self)
        place.hearing.carry_out = self.by_voice.do
        self.voice.begin(self)
        self.card.begin(self)
        self.bind(size=lambda *_: place.changed())
        self.visit = 0
        self.guard = BounceGuard(self._meanings, lambda: place.doing > 0, lambda p: self.screen.too_soon(p))
        Clock.schedule_interval(lambda _: self.guard.look(), _LOOK_EVERY_S)

    def on_touch_down(self, touch) -> bool:
        touch.ud["began"] = self.guard.clock()
        return super().on_touch_down(touch)

    # --- moving -------------------------------------------------------------------------

    @property
    def screen(self):
        return self.screens.current_screen

    def go(self, name: str, **given) -> None:
        """Show screen ``name``; ``given`` is handed to its ``enter``."""
        if not self.screens.has_screen(name):
            self.screens.add_widget(make(name, self))
        left = self.screens.current_screen
        if left is not None:
            left.leave()
        self.screens.current = name
        self.visit += 1
        if name != "entry":
            self._headed = self.screen
        self.screen.enter(**given)
        self.refresh()

    def home(self) -> None:
        """The screen that fits where the job stands."""
        job = self.place.job
        if job is None:
            self.go("start")
            return
        phase = job.state.phase
        working = "hold" if job.state.hold is not None else "step"
        self.go({"preparing": "prepare", "working": working, "stopped": "stop"}.get(phase, "finish"))

    def onward(self, after: str | None = None) -> None:
        """What is required next where it opens by itself: the next reading, the next photo's
        viewfinder, and after the last photo the finding beside them. One touch leads back.
        ``after``: the photo that passed just now."""
        job = self.place.job
        owed = job.owed[0] if job.state.hold is None and job.owed else None
        if owed is not None and owed.kind == "photo" and owed.photo is None:
            self.go("camera", wanted=owed.id, after=after)
        elif owed is not None and owed.kind == "finding":
            self.go("finding")
        elif owed is not None and owed.kind == "reading":
            self.go("step")
            self.screen.enter_reading(owed.id)
        else:
            self.home()

    def signal_hold(self) -> None:
        """Once for each hold, on whatever screen its end is reached."""
        job = self.place.job
        running = job.state.hold if job is not None else None
        if running not in (None, self._signalled) and job.state.hold_remaining(job.now()) == 0:
            self._signalled = running
            self.try_signal()

    def try_signal(self) -> tuple[bool, bool]:
        settings = self.place.settings
        return self._signal.give(settings.sound, settings.vibration)

    def plates(self) -> list[Plate]:
        """Everything that can be pressed now, in reading order."""
        return [plate for plate in self._meanings() if not plate.disabled]

    def _meanings(self) -> dict[Plate, tuple]:
        """Every plate in reading order, with what it belongs to: what stands around the
        screens stays the same when another one is shown."""
        roots = (self.headplace, self.voice, self.card, self.strip, self.screen)
        here = (self.visit, self.screen.about()) if self.screen is not None else ()
        undo = self.place.job.state.undo if self.place.job is not None else None
        about = {self.screen: here, self.headplace: (undo and undo.sequence,)}
        return {
            w: about.get(root, ())
            for root in roots
            if root is not None
            for w in root.walk(restrict=True)
            if isinstance(w, Plate)
        }

    def show_the_ear(self) -> None:
        """Which plates can be said, and what can be spelled."""
        hearing = self.place.hearing
        hearing.plates = {p.action: p.said for p in self.plates() if p.said or p.action in PLATES}
        hearing.spelled = getattr(self.screen, "spelled", None)

    def act(self, action: str) -> bool:
        """Press the plate of that name on this screen; whether there is one."""
        plate = next((p for p in self.plates() if p.action == action), None)
        if plate is not None:
            plate.press()
        return plate is not None

    def act_by_key(self, *actions: str) -> bool:
        """As ``act`` for the first that is there; a key is guarded as a touch is."""
        plates = {plate.action: plate for plate in reversed(self.plates())}
        plate = next((plates[action] for action in actions if action in plates), None)
        if plate is not None:
            self.press_by_key(plate)
        return plate is not None

    def press_by_key(self, plate: Plate) -> None:
        self.guard.look()
        if self.guard.takes(plate, self.guard.clock()):
            plate.press()

    # --- showing ------------------------------------------------------------------------

    def refresh(self) -> None:
        sizes.percent = self.place.settings.text_size
        show_theme(self.place.settings.theme)
        self._show_head()
        self._show_notices()
        if self.screen is not None:
            self.screen.show()
        self.show_the_ear()

    def _show_head(self) -> None:
        job = self.place.job
        self.practice.show(self.place.practice)
        self.unit.text = unit_words(job.state.opened) if job is not None else ""
        # A value is entered under the head of the screen that asks for it.
        head, stands = getattr(self._headed, "head", None), None
        if head is not None:
            texts = head()
        elif job is None:
            texts = say("Evidence App"), say("No job is open"), say("All jobs are saved on this tablet")
        else:
            stands = standing(job.step_list, job.state)
            texts = stands.where, stands.owed, stands.safe
        self.where.text, self.owed.text, self.safe.text = texts
        self.rule.display(stands)
        if self.place.sensing.recorder is not None:
            self.safe.text = say("Recording a note")
        self.voice.refresh()
        self.card.refresh()
        wide = self.width > self.height and self.width >= dp(900)
        self.rule.width = dp(46) if wide and job is not None else 0

    def _show_notices(self) -> None:
        job, shown = self.place.job, OFFER in self.place.notices
        words = offer_words() if job is not None and job.state.phase != "closed" else ""
        self.headplace.offer(words, shown, self.place.actions[OFFER])
        notices = [n for n in self.place.notices.values() if n.key != OFFER]
        if notices == self._notices:
            return
        self._notices = notices
        self.strip.clear_widgets()
        for notice in notices:
            self.strip.add_widget(_NoticeStrip(notice, self._pressed))

    def _pressed(self, notice: Notice) -> None:
        name = notice.action[0] if notice.action else ""
        if name == DISMISS:
            self.place.dismiss(notice.key)
        elif name in self.place.actions:
            self.place.actions[name]()
        else:
            self.go(name)


class HeadRow(GridLayout):
    """Three texts side by side where they fit, else one under the other."""

    def __init__(self, **given) -> None:
        super().__init__(
            cols=3, size_hint_y=None, height=0, spacing=[dp(16), dp(2)], padding=[dp(16), dp(6)], **given
        )
        self.bind(minimum_height=self.setter("height"), width=self._fit)
        sizes.listen(self, type(self)._fit)
        backed(self, "well")

    def do_layout(self, *arguments) -> None:
        """A text on one line stands at the middle of one on two."""
        super().do_layout(*arguments)
        if self.cols == 3:
            for child in self.children:
                child.center_y = self.center_y

    def _fit(self, *_) -> None:
        self.cols = 3 if self.width >= dp(820) * sizes.half else 1


class PracticeBand(Words):
    """Marks practice on every screen, in words on a hatched band."""

    def __init__(self, **given) -> None:
        super().__init__(role="head", tone="ink", halign="center", **given)
        self.bold = True
        self.padding = [dp(120), dp(3)]
        self.bind(pos=self._draw, size=self._draw)
        self.height = 0

    def show(self, shown: bool) -> None:
        self.text = say("PRACTICE: nothing here is evidence") if shown else ""
        self._grow()
        self._draw()

    def _grow(self, *_) -> None:
        self.height = self.texture_size[1] if self.text else 0

    def _draw(self, *_) -> None:
        self.canvas.before.clear()
        if not self.text:
            return
        with self.canvas.before:
            paint("haze")
            Rectangle(pos=self.pos, size=self.size)
            paint("ink")
            for side in (self.x + dp(6), self.x + self.width - dp(112)):
                for at in range(7):
                    x = side + at * dp(15)
                    Line(points=[x, self.y + dp(3), x + dp(10), self.y + self.height - dp(3)], width=dp(2))


class StepRule(Widget):
    """A rule with a notch for each step, longer ones for checkpoints, read top to bottom."""

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self._stands: Standing | None = None
        self.bind(pos=self._draw, size=self._draw)

    def display(self, stands: Standing | None) -> None:
        self._stands = stands
        self._draw()

    def _draw(self, *_) -> None:
        self.canvas.clear()
        if self._stands is None or self.width < dp(10):
            return
        with self.canvas:
            paint("board")
            Rectangle(pos=self.pos, size=self.size)
            pitch = (self.height - dp(24)) / max(1, len(self._stands.notches))
            for place, (notch, is_long) in enumerate(
                zip(self._stands.notches, self._stands.long, strict=True)
            ):
                y = self.y + self.height - dp(12) - (place + 0.5) * pitch
                self._notch(notch, dp(30) if is_long else dp(17), y)

    def _notch(self, notch: str, length: float, y: float) -> None:
        paint({"done": "mint", "here": "brass", "ahead": "edge"}[notch])
        if notch == "done":
            Rectangle(pos=(self.x, y - dp(3)), size=(length, dp(6)))
        else:
            Line(points=[self.x, y, self.x + length, y], width=dp(1.2))
        if notch == "here":
            right = self.x + self.width
            Triangle(points=[right, y + dp(9), right, y - dp(9), right - dp(15), y])
            Rectangle(pos=(self.x, y - dp(2)), size=(length, dp(4)))


class _NoticeStrip(Panel):
    def __init__(self, notice: Notice, pressed) -> None:
        self._words = Words(text=notice.words, role="body", tone="haze")
        self._plate = None
        super().__init__(self._words, cols=2, padding=[dp(16), dp(4)], spacing=dp(12), border="haze")
        self.bind(width=self._fit)
        if notice.action is not None:
            name, words = notice.action
            self._plate = Plate(text=words, action=name, size_hint_x=None, call=lambda: pressed(notice))
            self.add_widget(self._plate)

    def do_layout(self, *arguments) -> None:
        """The words stand at the height of the plate's own."""
        super().do_layout(*arguments)
        if self._plate is not None and self._words.height < self._plate.height:
            self._words.center_y = self._plate.center_y

    def _fit(self, *_) -> None:
        if self._plate is not None:
            self._plate.width = min(self.width * 0.4, max(dp(150), self._plate.fitting_width()))


Builder.load_file(str(__file__).replace(".py", ".kv"))
