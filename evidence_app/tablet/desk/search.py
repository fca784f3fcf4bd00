"""Search of the register: fields that are set one by one, and a number scanned or typed."""

from __future__ import annotations

import msgspec

from evidence_app.desk.search import Wanted
from evidence_app.language import say, say_many
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.presenting.found import (
    CHOICES,
    FIELDS,
    day_of,
    look_for,
    next_choice,
    said,
)
from evidence_app.tablet.desk.widgets import TypedField
from evidence_app.tablet.presenting.notices import refusal_notice
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import ActionRow, Plate, Words, fill

_A_PAGE = 20


class SearchScreen(DeskBase):
    """``_rows`` is None until the register answered."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._wanted, self._number, self._typed = Wanted(), "", ""
        self._narrow = False

    def enter(self) -> None:
        super().enter()
        self._rows, self._from = None, 0
        self._look()

    def show(self) -> None:
        if not self.differs(self._rows, self._from, self._wanted, self._number, self._narrow):
            self._field.display(self._typed)
            return
        self._field = TypedField(say("Scan or type a serial or claim number, then press Enter."))
        self._field.display(self._typed)
        self.page.refill(
            [
                Words(text=say("Search the register"), role="title"),
                self._field,
                *self._filters(),
                *self._found(),
            ]
        )
        self.fill_row(
            plate(say("Back"), "back", lambda: self.frame.go("desk"), mark="back"),
            plate(
                say("Fewer fields") if self._narrow else say("More fields"),
                "fields",
                self._turn_fields,
                mark="rule",
            ),
            plate(say("Show everything"), "everything", self._clear)
            if self._number or self._wanted != Wanted()
            else None,
        )

    def _filters(self):
        """The fields in use, or all of them."""
        shown = [name for name in FIELDS if self._narrow or getattr(self._wanted, name)]
        if not shown:
            return
        filters = ActionRow(padding=[0, 0])
        fill(
            filters,
            [
                Plate(
                    text="\n".join((say(FIELDS[name]), said(name, self._wanted))),
                    action=name,
                    kind="plain" if getattr(self._wanted, name) else "row",
                    call=lambda name=name: self._set(name),
                )
                for name in shown
            ],
        )
        yield filters

    def _turn_fields(self) -> None:
        self._narrow = not self._narrow
        self.page.scroll_y = 1
        self.show()

    def _found(self):
        if self._rows is None:
            yield Words(text=say("Looking …"))
            return
        if self._number:
            yield Words(
                text=say("Serial or claim number {number}", number=self._number), tone="brass"
            )
        yield Words(
            text=say_many("{count} package", "{count} packages", len(self._rows))
            if self._rows
            else say("No package fits."),
            role="lead",
        )
        for row in self._rows[self._from : self._from + _A_PAGE]:
            yield Plate(
                text="\n".join((row.head, *row.words)),
                kind="plain",
                mark="done" if row.good else "open",
                action=f"package {row.package}",
                call=lambda row=row: self.desk.open(
                    row.package, lambda: self.frame.go("desk-package")
                ),
            )
        if self._from:
            yield plate(say("Show those before"), "previous", lambda: self._turn(-_A_PAGE))
        if self._from + _A_PAGE < len(self._rows):
            yield plate(say("Show more"), "next", lambda: self._turn(_A_PAGE))

    # --- looking --------------------------------------------------------------------------

    def typed(self, text: str) -> None:
        self._typed = (self._typed + text)[:120]
        self._field.display(self._typed)

    def key(self, name: str) -> None:
        if name == "rub out":
            self._typed = self._typed[:-1]
        elif name == "enter" and self._typed.strip():
            self._number, self._typed = self._typed.strip(), ""
            self._look()
        self._field.display(self._typed)

    def _look(self) -> None:
        register, wanted, number = self.desk.register, self._wanted, self._number
        self._rows, self._from = None, 0

        def found(rows) -> None:
            self._rows = rows
            self.show()

        def failed(error) -> None:
            found(())
            # Before the first package there is no register, which is nothing wrong.
            if register.path.exists():
                self.place.refused(error)

        self.place.worker.run(lambda: look_for(register, wanted, number), found, failed)

    def _set(self, name: str) -> None:
        if name in CHOICES:
            self._wanted = next_choice(name, self._wanted)
            self._look()
            self.show()
            return
        day = name in ("since", "until")
        asked = (
            say("{field} (year-month-day)", field=say(FIELDS[name])) if day else say(FIELDS[name])
        )
        self.ask(
            asked,
            lambda text: self._entered(name, text),
            "desk-search",
            scan=name in ("serial", "claim"),
            main=say("Look for it"),
            given=getattr(self._wanted, name) or "",
        )

    def _entered(self, name: str, text: str) -> None:
        value = day_of(text) if name in ("since", "until") else text
        if value is None:
            self.place.tell(
                refusal_notice(
                    say(
                        "“{text}” is no day. Write it as year-month-day, like 2026-03-02.",
                        text=text,
                    )
                )
            )
            return
        self._wanted = msgspec.structs.replace(self._wanted, **{name: value})
        self._look()
        self.show()

    def _clear(self) -> None:
        self._wanted, self._number, self._typed = Wanted(), "", ""
        self._look()
        self.show()

    def _turn(self, by: int) -> None:
        self._from = max(0, self._from + by)
        self.page.scroll_y = 1
        self.show()
