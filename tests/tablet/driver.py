"""Drives the real app in a real window by touches and keys, as a technician would."""

from __future__ import annotations

import os
import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

from evidence_app.tablet.setup import prepare

prepare((1280, 800))

from kivy.config import Config  # noqa: E402

# How long a scroll view waits whether a touch becomes a scroll; the fingers here never do.
Config.set("widgets", "scroll_timeout", "1")

from kivy.animation import Animation  # noqa: E402
from kivy.base import EventLoop  # noqa: E402
from kivy.clock import Clock  # noqa: E402
from kivy.core.text import Label as CoreLabel  # noqa: E402
from kivy.core.window import Window  # noqa: E402
from kivy.tests.common import UnitTestTouch  # noqa: E402
from kivy.uix.scrollview import ScrollView  # noqa: E402

from evidence_app import language  # noqa: E402
from evidence_app.job import commands as c  # noqa: E402
from evidence_app.practice.clock import PracticeClock  # noqa: E402
from evidence_app.practice.session import Session  # noqa: E402
from evidence_app.tablet.app import TabletApp  # noqa: E402
from evidence_app.tablet.settings import Settings  # noqa: E402
from evidence_app.tablet.widgets.sizes import GUARD_S, sizes  # noqa: E402
from tests.tablet import rendered  # noqa: E402

rendered.use()

PIN = "604192"
_PATIENCE_S = 5.0
"""Of the screen's own time, as all that is about a finger: see ``pass_frames``."""
_FRAME_S = 1 / 60
_LONGEST_REST_S = 0.1
_MOST_ACTIONS = 600
_MOST_TAKES = 5
_FINGER_STEPS = 6
_PASSED_ON_S = 0.12  # a page waits 0.055 s
_DRAWN = 8
"""Every so many frames one is drawn and shown; drawing is most of the time where the graphics
run in software, and the widgets are laid out all the same. Every one before a picture of it."""


_extents: dict[tuple[str, str], tuple[int, int]] = {}


def _known_extents(label: CoreLabel):
    """Every layout asks the size of every word, and the same words stay."""
    font = label._get_font_id()

    def extents(text: str) -> tuple[int, int]:
        found = _extents.get((font, text))
        if found is None:
            found = _extents[font, text] = label.get_extents(text)
        return found

    return extents


CoreLabel.get_cached_extents = _known_extents


class _ScreenTime:
    """The time that the screens' library goes by, which a test runs ahead instead of waiting."""

    def __init__(self) -> None:
        self.ahead_s, self._real = 0.0, Clock.time
        Clock.time = self.now

    def now(self) -> float:
        return self._real() + self.ahead_s


_screen_time = _ScreenTime()


class Driver:
    """One run of the app; ``folder`` takes a screenshot of each new screen when given."""

    def __init__(
        self,
        size=(1280, 800),
        clock=None,
        shots: Path | None = None,
        camera: str | None = None,
        microphone: str | None = None,
        **settings,
    ) -> None:
        EventLoop.ensure_window()
        Clock._max_fps = 0  # no waiting for the next sixtieth of a second
        settings.setdefault("practice", True)
        # What is about the voice says so; everything else neither listens nor speaks.
        for name, value in (("listening", False), ("spoken", "off"), ("transcripts", False)):
            settings.setdefault(name, value)
        sizes.percent = settings.get("text_size", 100)
        self.clock = clock
        self.shots = shots
        self._shot_names: set[str] = set()
        self.looks_again = True  # once, at a photo that passed
        self.app = TabletApp(Settings(**settings), clock=clock, camera=camera, microphone=microphone)
        self.resize(size)
        self._news = threading.Event()  # something beside the screen has answered
        deliver = self.app.worker.report
        self.app.worker.report = lambda call: (deliver(call), self._news.set())
        self.root = self.app.build()
        # The guard's time is the hand's: it goes on when a person would wait, never by itself.
        self.hand_s = 1000.0
        self.root.guard.clock = lambda: self.hand_s
        self.app.root = self.root
        self._frame, self._draw_all = 0, shots is not None
        Window.bind(on_draw=self._leave_out, on_flip=self._leave_out_too)
        Window.add_widget(self.root)
        self.app.on_start()
        self.settle()

    # --- looking ----------------------------------------------------------------------

    @property
    def place(self):
        return self.app.place

    @property
    def job(self):
        return self.place.job

    @property
    def screen(self) -> str:
        return self.root.screens.current

    def actions(self) -> list[str]:
        return [plate.action for plate in self.root.plates()]

    def texts(self) -> str:
        from kivy.uix.label import Label

        return "\n".join(w.text for w in walk(self.root) if isinstance(w, Label))

    def _leave_out(self, _window) -> bool:
        self._frame += 1
        return not self._draw_all and self._frame % _DRAWN != 0

    def _leave_out_too(self, _window) -> bool:
        return not self._draw_all and self._frame % _DRAWN != 0

    # --- waiting --------------------------------------------------------------------------

    def resize(self, size) -> None:
        Window.size = size
        for _ in range(30):
            EventLoop.idle()
            if tuple(Window.size) == tuple(size):
                break
        EventLoop.idle()

    def until(self, condition, what: str = "") -> None:
        """As long as it takes: only the time limit of the whole test ends it."""
        begun = time.monotonic()
        try:
            while not condition():
                EventLoop.idle()
                # Lets the threads beside the UI work: longer ones are disturbed less often.
                self._news.wait(min(max(0.001, (time.monotonic() - begun) / 10), _LONGEST_REST_S))
                self._news.clear()
        except BaseException as cut:
            cut.add_note(f"waited for {what} at {self.screen}: {self.texts()}")
            raise

    def settle(self) -> None:
        """Until nothing is under way beside the UI and everything is laid out."""
        self.until(lambda: self.place.worker.busy == 0, "the worker")
        for _ in range(3):
            EventLoop.idle()

    def pass_frames(self, seconds: float) -> None:
        """So much of the screen's own time, frame after frame and none of them waited for."""
        ends = _screen_time.now() + seconds
        while _screen_time.now() < ends:
            self._next_frame()

    def _next_frame(self) -> None:
        _screen_time.ahead_s += _FRAME_S
        EventLoop.idle()

    def pass_time(self, seconds: float) -> None:
        """So much real time, for what is not the screen's: sounds, and threads beside it."""
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            EventLoop.idle()
            time.sleep(0.001)

    # --- doing ----------------------------------------------------------------------------

    def touch(self, action: str) -> None:
        """A finger on the plate of that name, at its middle, where it is on the screen."""
        plate = self._plate(action)
        assert plate is not None, f"no “{action}” at {self.screen}: {self.actions()}"
        finger = self._press(plate)

        def felt() -> bool:
            nonlocal finger
            now = self._plate(action)
            if now is None or now.state == "down":
                return now is not None
            if _screen_time.now() > self._pressed + _PATIENCE_S and not self.place.worker.busy:
                # The page was filled anew under the finger: a person presses again.
                finger.touch_up()
                finger = self._press(now)
            self._next_frame()
            return False

        released: list[bool] = []
        while not released:
            self.until(felt, f"“{action}” to feel the finger")
            self._plate(action).bind(on_release=lambda _: released.append(True))
            finger.touch_up()
            # What moved away under the finger is not pressed: a person presses again.
            patient = _screen_time.now() + _PATIENCE_S
            while not released and _screen_time.now() < patient:
                self._next_frame()
            if not released:
                finger = self._press(self._plate(action))
        self.after_touch(finger)
        self.settle()
        self.look()

    def after_touch(self, finger: UnitTestTouch) -> None:
        """For tests in which the finger bounces."""

    def tap(self, x: float, y: float) -> None:
        """A finger down and up again. A page passes a touch on only when it knows that it is no
        scrolling, by its own clock; until then the hand's clock stands."""
        finger = UnitTestTouch(x, y)
        finger.touch_down()
        self.pass_frames(_PASSED_ON_S)
        finger.touch_up()
        self.pass_frames(_PASSED_ON_S)

    def wait_for_the_guard(self) -> None:
        """As a person does who sees the plates fill."""
        self.root.guard.look()
        self.hand_s += 2 * GUARD_S
        self.root.guard.look()

    def _press(self, plate) -> UnitTestTouch:
        self._into_view(plate)
        self.wait_for_the_guard()
        finger = UnitTestTouch(*plate.to_window(plate.center_x, plate.center_y))
        finger.touch_down()
        self._pressed = _screen_time.now()
        return finger

    def _plate(self, action: str):
        return next((p for p in self.root.plates() if p.action == action), None)

    def fingers(self, *paths) -> None:
        """As many fingers at once as ``paths``, each from its first point to its last, in
        pixels of the window from its lower left corner; moved in turn, as they come in."""
        held = [UnitTestTouch(*path[0]) for path in paths]
        for finger in held:
            finger.touch_down()
        for step in range(1, _FINGER_STEPS + 1):
            for finger, (begin, end) in zip(held, paths, strict=True):
                finger.touch_move(
                    *(a + (b - a) * step / _FINGER_STEPS for a, b in zip(begin, end, strict=True))
                )
            EventLoop.idle()
        for finger in held:
            finger.touch_up()
        EventLoop.idle()

    def pixels(self, folder: Path):
        """What the window shows now: (H, W, 3) uint8 RGB, the first row the top one."""
        import numpy as np
        from PIL import Image

        self._draw_all, before = True, self._draw_all
        for _ in range(3):  # one for each buffer that the window may show
            Window.canvas.ask_update()
            EventLoop.idle()
        taken = Window.screenshot(name=str(folder / "window.png"))
        self._draw_all = before
        return np.asarray(Image.open(taken).convert("RGB"))

    def type(self, text: str) -> None:
        for sign in text:
            Window.dispatch("on_textinput", sign)
        EventLoop.idle()

    def key(self, code: int, modifiers=()) -> None:
        self.wait_for_the_guard()
        self.tap_key(code, modifiers)

    def tap_key(self, code: int, modifiers=()) -> None:
        """At once, as a held key repeats."""
        Window.dispatch("on_key_down", code, 0, None, list(modifiers))
        EventLoop.idle()

    def look(self, name: str | None = None) -> None:
        """A screenshot of each screen in each new set of actions."""
        if self.shots is None:
            return
        key = name or f"{self.screen}-{'-'.join(a.split(' ')[0] for a in self.actions())}"[:90]
        if key in self._shot_names:
            return
        self._shot_names.add(key)
        self.shots.mkdir(parents=True, exist_ok=True)
        EventLoop.idle()
        taken = Window.screenshot(name=str(self.shots / "shot.png"))
        os.replace(taken, self.shots / f"{len(self._shot_names):03d}-{key.replace('/', '_')}.png")

    def _into_view(self, plate) -> None:
        parent = plate.parent
        while parent is not None and parent is not self.root:
            if isinstance(parent, ScrollView) and parent.viewport_size[1] > parent.height:
                parent.scroll_to(plate, animate=False)
                EventLoop.idle()
                EventLoop.idle()
            parent = parent.parent

    def end(self) -> None:
        self.app.on_stop()
        self.root.screen.leave()
        Window.unbind(on_draw=self._leave_out, on_flip=self._leave_out_too)
        Window.remove_widget(self.root)
        for event in Clock.get_events():
            event.cancel()
        Animation._instances.clear()  # each waits for its next frame, and keeps the app till then
        sizes.percent = 100
        language.use("en")  # what comes next does not inherit this one's language
        EventLoop.idle()

    # --- whole sessions ---------------------------------------------------------------------

    def begin(self, session_name: str) -> None:
        """From the start screen into the job of a practice unit."""
        self.touch("new")
        self.touch("unit")
        self.touch(f"unit {session_name}")
        self.touch("open")
        self.until(lambda: self.job is not None, "the job")
        self.settle()

    def at_first_step(self, session_name: str = "completed") -> None:
        """In a practice unit's job; what is owed before the work is given without touches,
        for tests that are about something else."""
        self.begin(session_name)
        while self.job.owed:
            for owed in self.job.owed:
                self.job.do(
                    c.AcknowledgeCaution(owed.id)
                    if owed.kind == "caution"
                    else c.TickItem(owed.list, owed.id)
                )
        self.place.changed()
        self.settle()
        self.touch("next")

    def play(self, session: Session, stop_when=lambda driver: False) -> None:
        """Works until the job is closed, or until ``stop_when`` says so."""
        for _ in range(_MOST_ACTIONS):
            if self.job.state.phase == "closed" or stop_when(self):
                return
            if self.clock is not None:
                self.clock.advance(session.pace_s if self.screen == "step" else 2)
            getattr(self, f"_at_{self.screen}")(session)
        raise AssertionError(f"no end after {_MOST_ACTIONS} actions, at {self.screen}")

    def seal(self) -> Path:
        if self.screen != "finish":
            self.root.go("finish")
            self.settle()
        self.look()
        self.touch("seal")
        while self.screen == "entry":  # a new PIN is asked for twice
            self.type(PIN)
            self.touch("record")
        self.until(lambda: self.place.sealed is not None, "the package")
        self.settle()
        self.look()
        return self.place.sealed.path

    def _at_prepare(self, session) -> None:
        actions = self.actions()
        tick = next((a for a in actions if a.startswith("tick ")), None)
        self.touch("acknowledge" if "acknowledge" in actions else tick or "next")

    def _at_step(self, session) -> None:
        visit, since = self._visit(session), self._since()
        kinds = [e.kind for e in since]
        if visit.clock_set_s is not None and "clock-stepped" not in kinds:
            wall = datetime.fromisoformat(self.clock.now().wall)
            moved = wall + timedelta(seconds=visit.clock_set_s)
            self.clock.set_wall(moved.isoformat(timespec="milliseconds"))
        owed = self.job.owed[0] if self.job.owed else None
        if (
            owed is not None
            and owed.kind == "count"
            and any(owed.id == each.thing for each in visit.counts)
        ):
            self.touch(f"count {owed.id}")
        elif self._to_be_noted(session):
            self.touch("note")
        else:
            self.touch("next" if "next" in self.actions() else "main")

    def _at_count(self, session) -> None:
        """Another number, or pieces of another kind, with the script's reason."""
        said = next(x for x in self._visit(session).counts if x.thing == self.root.screen._thing)
        listed = {each.thing: each.listed for each in self.job.step.counts}[self.root.screen._thing]
        for _ in range(abs(said.count - listed)):
            self.touch("plus" if said.count > listed else "minus")
        if said.other is not None:
            self.touch("other-kind")
            self.type(said.other)
        self.touch("record")
        self.type(said.reason)
        self.look()
        self.touch("record")

    def _to_be_noted(self, session) -> bool:
        visit, since = self._visit(session), self._since()
        only_finding = all(o.kind == "finding" for o in self.job.owed)
        says = visit.says is not None and not _spoken(since)
        writes = visit.writes is not None and "note-written" not in [e.kind for e in since]
        return only_finding and (says or writes)

    def _at_note(self, session) -> None:
        visit = self._visit(session) if self.job.state.stop is None else None
        if visit is not None and visit.writes and (visit.says is None or _spoken(self._since())):
            self.touch("write-note")
            self.type(visit.writes)
            self.touch("record")
            return
        self.touch("start-note")
        self.until(lambda: self.place.sensing.recorder.seconds > 0.5, "sound")
        self.look()
        self.touch("end-note")

    def _at_camera(self, session) -> None:
        self.until(lambda: "shutter" in self.actions(), "a picture")
        for _ in range(3):
            EventLoop.idle()
        self.look()
        if self.looks_again and "photo-before" in self.actions():
            self.looks_again = False
            self.touch("photo-before")
            return
        visit = self.root.visit
        self.touch("shutter")
        self.until(lambda: self.root.visit != visit, "the photo")
        self.settle()

    def _at_photo(self, session) -> None:
        actions = self.actions()
        self.look()
        if "step" in actions:
            self.touch("step")
            return
        visit = self._visit(session)
        photo = self.root.screen._photo()
        takes = sum(e.kind == "photo-taken" and e.body["wanted"] == photo.wanted for e in self._since())
        if photo.wanted in visit.keep and takes >= len(visit.takes.get(photo.wanted, ())):
            self.touch("keep")
            self.type(visit.keep[photo.wanted])
            self.touch("record")
        else:
            assert takes < _MOST_TAKES, f"{photo.wanted} never passes: {self.texts()}"
            self.touch("retake")

    def _at_entry(self, session) -> None:
        reading = self.root.screen._reading
        self.look()
        if reading is None:
            self.type(
                (session.after_stop.names if session.after_stop else {}).get(
                    "supervisor", "R. Tavares-Holm"
                )
            )
        else:
            value = self._visit(session).readings.get(reading.id, session.readings[reading.id])
            if reading.text:
                self.type(value)
            else:
                for sign in value:
                    self.touch(f"key {sign}")
        self.touch("record")
        if "outside" in self.actions():
            self.touch("outside")

    def _at_hold(self, session) -> None:
        visit = self._visit(session)
        hold = self.job.step.hold
        ended = [e for e in self._since() if e.kind == "hold-ended"]
        early = visit.early_release_s is not None and not ended
        if "start" in self.actions():
            self.touch("start")
        elif early:
            self.clock.advance(visit.early_release_s)
            self.pass_time(0.25)
            self.look()
            self.touch("release")
        else:
            self.clock.advance(hold.at_least_s + 3)
            self.until(lambda: "end" in self.actions(), "the hold to be long enough")
            self.look()
            self.touch("end")

    def _at_finding(self, session) -> None:
        self.look()
        if self._to_be_noted(session):
            self.touch("note")
            return
        self.touch(f"finding {self._visit(session).finding or 'clear'}")
        if "confirm-stop" in self.actions():
            self.touch("confirm-stop")

    def _at_stop(self, session) -> None:
        self.touch("main")

    def _at_finish(self, session) -> None:
        self.look()
        self.touch("close")

    def _visit(self, session):
        return session.visit_at(self.job.state.step, self.job.record.events)

    def _since(self):
        since = []
        stopped = self.job.state.stop
        for event in self.job.record.events:
            entered = event.kind == "step-entered" and event.step == self.job.state.step
            since = [] if entered else [*since, event]
        if stopped is not None:
            since = [e for e in since if e.sequence >= stopped.sequence]
        return since


def _spoken(since) -> bool:
    """Whether the note was said to its end; one that was cut short is said again."""
    return any(e.kind == "note-recorded" and not e.body["cut_short"] for e in since)


def walk(widget):
    yield widget
    for child in widget.children:
        yield from walk(child)


def practice_clock(session: Session) -> PracticeClock:
    return PracticeClock(session.begins)
