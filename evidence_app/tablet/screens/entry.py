"""Entering a value: with the keys on the screen, a keyboard, or from a code in the camera.

Serves text (names, numbers on plates, reasons), readings (a number pad with unit and
limits) and the PIN (shown as dots).
"""

from functools import partial
from typing import Any

from kivy.metrics import dp

from evidence_app.job.rules.owed import limits_in_words
from evidence_app.language import language, say
from evidence_app.tablet.presenting.working.reading import typed
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.widgets import Flow, Panel, Plate, Rows, Words
from evidence_app.tablet.widgets.columns import Columns
from evidence_app.tablet.widgets.compared import compared_numbers
from evidence_app.tablet.widgets.marked import MarkedWords
from evidence_app.tablet.widgets.sizes import touch

_NUMBERS = "0123456789-."
_PAD = "789<456-123.0"
_PIN_PAD = "7894561230<"
_LETTERS = "QWERTYUIOPASDFGHJKL-ZXCVBNM.,/"
_DIGITS = "1234567890"
_SIGNS = ":;_+*=?!'\"()&%@#\\<>~"
_VERDICTS = {
    "empty": ("owed", "chalk"),
    "wrong": ("open", "chalk"),
    "within": ("done", "mint"),
    "outside": ("open", "clay"),
    "other": ("open", "clay"),
}  # shape and tone
_LONGEST = 400
_ROOM = 150  # dp above the letters, for what is asked and what was typed
_LEAST_BESIDE = 340  # dp, with the number pad beside what is asked


class EntryScreen(BaseScreen):
    """``done(value, entered_by)`` is called with what was entered. Texts that are ``offered`` stand
    in the place of the keys on the screen until these are asked for."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._done: Any = None
        self.page.bind(size=lambda *_: self.show() if self._done is not None else None)

    def enter(
        self,
        asked: str = "",
        done=None,
        back=None,
        scan: bool = False,
        reading=None,
        pin: bool = False,
        given: str = "",
        main: str | None = None,
        by: str = "typed",
        offered: tuple[str, ...] = (),
    ) -> None:
        super().enter()
        self._asked, self._done, self._back, self._scan = asked, done, back, scan
        self._offered, self._offering = offered, bool(offered)
        self._anew = partial(
            self.frame.go, "entry", asked=asked, done=done, back=back, scan=scan, reading=reading, main=main
        )
        self._reading, self._pin, self._main = reading, pin, main
        self._serial = self.job.state.opened.device.serial if self.job is not None else ""
        self._value, self._by, self._confirming = given, by, False
        if reading is not None:
            self._scan = reading.scan
        self._upper, self._signs = self._of_a_plate or not given, False
        self._field = Words(role="value" if self._numeric else "title")
        self._verdict = MarkedWords()

    @property
    def _numeric(self) -> bool:
        return self._pin or (self._reading is not None and not self._reading.text)

    @property
    def _of_a_plate(self) -> bool:
        """Whether a number on a plate or paperwork is asked: in capitals, letters and digits."""
        return self._scan or self._reading is not None

    @property
    def _low(self) -> bool:
        """Whether there is no room for the digits above the letters."""
        return not self._of_a_plate and self.page.height < dp(_ROOM) + 4 * touch()

    def show(self) -> None:
        if self.differs(
            self._asked,
            self._upper,
            self._signs,
            self._low,
            self._confirming,
            self._offering,
            self.page.width,
            self._numeric,
            id(self._done),
        ):
            self._build()
        self._update()

    # --- keys ------------------------------------------------------------------------

    def typed(self, text: str) -> None:
        if self._confirming:
            return
        if self._numeric:
            text = "".join(
                x for x in text.replace(",", ".") if x in ("0123456789" if self._pin else _NUMBERS)
            )
        self._value = (self._value + text)[:_LONGEST]
        self._by = "typed"
        if self._upper and text.isalpha() and not self._value[:-1] and not self._of_a_plate:
            self._upper = False
        self.show()

    def too_soon(self, plate: Plate) -> None:
        """A number must not lack a digit that the technician believes to be typed."""
        if plate.role == "key":
            self._verdict.text = say("“{sign}” was touched twice quickly: it counts once.", sign=plate.text)
            self._verdict.mark, self._verdict.tone = "open", "clay"

    def rub_out(self) -> None:
        self._value, self._by = self._value[:-1], "typed"
        self._confirming = False
        self.show()

    # --- building ---------------------------------------------------------------------

    def _build(self) -> None:
        rows = [Words(text=self._asked, role="lead"), self._field]
        if self._reading is not None:
            if not self._reading.text:
                rows.insert(
                    1, Words(text=say("Limits: {limits}", limits=say(limits_in_words(self._reading))))
                )
            rows.append(self._verdict)
        panel = Panel(*rows, border="brass", padding=[dp(14), dp(8)], spacing=dp(6))
        other = self._confirming and self._reading.text
        if other:
            widgets = [
                Words(text=say("This is another unit than the job's"), role="title", tone="clay"),
                compared_numbers(self._serial, self._value),
                Words(
                    text=say(
                        "Look at the unit and at the job sheet again. Where the right unit lies here, "
                        "enter the number again. Where it is another one, work no further on it."
                    ),
                    role="lead",
                ),
            ]
        elif self._confirming:
            widgets = [
                panel,
                Words(
                    text=say(
                        "The value is outside its limits and will be recorded as outside. Is it what "
                        "the instrument shows?"
                    ),
                    role="lead",
                    tone="clay",
                ),
            ]
        elif self._numeric:
            # Side by side, no number has to be scrolled to.
            widgets = [Columns(panel, self._number_pad(), least=_LEAST_BESIDE)]
        elif self._offering:
            widgets = [panel, tiles(*map(self._offer, self._offered))]
        else:
            widgets = [panel, self._letter_keys()]
        self.page.refill(widgets)
        back = self.back_plate(self._back)
        if self._confirming:
            words = say("Record it with a reason") if other else say("Record it as outside")
            record = plate(words, "outside", self._record, "stop")
            self.fill_row(plate(say("Enter it again"), "again", self._again, "main"), record)
            return
        scan = plate(say("Read a code"), "scan", self._scan_code, mark="shutter") if self._scan else None
        self._go = plate(self._main or say("Record it"), "record", self._record, "main")
        swap = None
        if self._offered:
            words = say("Keyboard") if self._offering else say("Reasons")
            swap = plate(words, "swap-offered", self._swap_offered, mark="pencil")
        self.fill_row(back, scan, swap, self._go)

    def _offer(self, text: str) -> Plate:
        """It is taken into the field as if typed: it can be changed there before it is recorded."""

        def take() -> None:
            self._value, self._by = text, "typed"
            self.show_top()

        return plate(text, f"offered {self._offered.index(text) + 1}", take)

    def _swap_offered(self) -> None:
        self._offering = not self._offering
        self.show_top()

    def _number_pad(self) -> Flow:
        """The last row, with fewer keys, is spread: nought is the largest of all."""
        pad = Flow(most=3 if self._pin else 4, spacing=dp(8))
        for key in _PIN_PAD if self._pin else _PAD:
            pad.add_widget(self._wide_key(say("Delete"), self.rub_out) if key == "<" else self._key(key))
        return pad

    def _letter_keys(self) -> Rows:
        """Ten keys in a row where they have room, and those that are no signs at the ends of
        the rows where they fit there, else below."""
        room = int((self.page.width - dp(42) + dp(8)) // (touch() + dp(8)))
        # Sharp s has no capital that all readers know.
        keys = [self._key(key if self._upper or key == "ß" else key.lower()) for key in self._shown_keys()]
        swap = "abc" if self._signs else "12:?" if self._low else ":?!"
        others = [
            self._wide_key(say("Delete"), self.rub_out),
            self._wide_key(say("space"), lambda: self.typed(" ")),
            self._wide_key(swap, self._swap),
        ]
        if not self._signs:
            (keys if self._low else others).insert(
                29 if self._low else 2, self._wide_key("aA", self._shift)
            )
        cell = (self.page.width - dp(42) - 10 * dp(8)) / 11
        at_the_ends = len(keys) == 10 * len(others) and cell >= max(other.least_width() for other in others)
        if at_the_ends:
            for row, other in enumerate(others):
                keys.insert(11 * row + 10, other)
            return Rows(*keys, cols=11, spacing=dp(8))
        grid = Rows(*keys, cols=max(3, min(10, room)), spacing=dp(8))
        return Rows(grid, Flow(*reversed(others), spacing=dp(8)), spacing=dp(8))

    def _shown_keys(self) -> str:
        umlauts = "ÄÖÜß" if language() == "de" else ""
        if self._low:
            return (
                _DIGITS + _SIGNS[:15] + "/" + (umlauts or _SIGNS[15:19])
                if self._signs
                else _LETTERS.removesuffix("/")
            )
        return _DIGITS + (_SIGNS if self._signs else _LETTERS + umlauts)

    def _key(self, sign: str) -> Plate:
        made = self._wide_key(sign, lambda: self.typed(sign))
        made.role, made.padding = "key", [dp(6), dp(6)]
        return made

    def _wide_key(self, words: str, call) -> Plate:
        made = Plate(text=words, action=f"key {words}", call=call, halign="center")
        made.padding = [dp(2), dp(6)]
        return made

    def _swap(self) -> None:
        """Letters for signs, as in addresses and paths, and back."""
        self._signs = not self._signs
        self.show()

    def _shift(self) -> None:
        self._upper = not self._upper
        self.show()

    def _update(self) -> None:
        unit = (self._reading.unit or "") if self._reading is not None else ""
        shown = "* " * len(self._value) if self._pin else self._value
        self._field.text = f"{shown}_ {unit}".rstrip()
        if self._reading is not None:
            verdict = typed(self._reading, self._value, self._serial)
            self._verdict.text = verdict.words
            self._verdict.mark, self._verdict.tone = _VERDICTS[verdict.state]
            ready = verdict.state in ("within", "outside", "other")
        else:
            self._verdict.text = ""
            ready = bool(self._value.strip())
        if not self._confirming:
            self._go.disabled = not ready
            self._go.kind = "main" if ready else "row"

    # --- doing ---------------------------------------------------------------------------

    def _record(self) -> None:
        """What is outside its limits, or another unit's number, is asked about once more."""
        value, reading = self._value.strip(), self._reading
        if reading is not None and not self._confirming:
            self._confirming = typed(reading, value, self._serial).state in ("outside", "other")
            if self._confirming:
                self.show_top()
                return
        self._done(value, self._by)

    def _again(self) -> None:
        self._confirming, self._value, self._by = False, "", "typed"
        self.show()

    # --- reading a code --------------------------------------------------------------------

    def _scan_code(self) -> None:
        """To the camera and back here, with the code in the field or with what was typed."""
        value, by = self._value, self._by
        self.frame.go(
            "scan",
            asked=self._asked,
            reading=self._reading,
            done=lambda text: self._anew(given=text, by="scanned"),
            back=lambda: self._anew(given=value, by=by),
        )
