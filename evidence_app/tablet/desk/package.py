"""One package: what was found, who sealed it, what it shows; comparing and deciding."""

from __future__ import annotations

from kivy.metrics import dp

from evidence_app.desk.register import ACCEPTED, PASSED_ON, RETURNED
from evidence_app.language import say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.presenting.package import (
    PackageShown,
    compare_words,
    package_shown,
    shown_of,
)
from evidence_app.tablet.desk.widgets import MONO, TypedField, pairs, panel
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import Panel, Rows, Words
from evidence_app.tablet.widgets.columns import Columns
from evidence_app.tablet.widgets.sizes import sizes


class PackageScreen(DeskBase):
    """``_asking`` is "", "decision" or "paper"."""

    def enter(self) -> None:
        super().enter()
        self._asking, self._typed, self._answer = "", "", ("", "chalk")

    def show(self) -> None:
        opened = self.desk.opened
        if opened is None:
            return
        entry = opened.entry
        if not self.differs(
            len(entry.events),
            len(entry.results),
            entry.package["id"],
            opened.contents is None,
            opened.why_not,
            self._asking,
        ):
            self._show_typed()
            return
        shown = package_shown(entry)
        if self._asking:
            getattr(self, f"_ask_{self._asking}")(shown)
            return
        self._field = TypedField(
            say("Scan or type the serial or claim number to compare, then press Enter.")
        )
        self._field.add_widget(
            plate(say("Scan with the camera"), "scan", self._scan, mark="shutter")
        )
        left, right = self._left(shown), self._right(shown, opened)
        self.page.refill(
            [
                self._verdict(shown),
                *self._altered(shown),
                Columns(left, right) if left.children else Columns(right),
            ]
        )
        self._show_typed()
        self.fill_row(
            plate(say("Back"), "back", lambda: self.frame.go("desk"), mark="back"),
            plate(say("Decide"), "decide", lambda: self._ask("decision"), "main"),
            plate(say("Review the stop"), "review", self._review) if shown.stopped else None,
            plate(say("Print as PDF"), "print", lambda: self._ask("paper")),
        )

    # --- what was found -----------------------------------------------------------------

    def _verdict(self, shown: PackageShown) -> Panel:
        tone = "mint" if shown.good else "clay"
        made = Panel(border=tone)
        made.add_widget(Words(text=shown.title, tone="brass"))
        made.add_widget(Words(text=shown.verdict, role="title", tone=tone))
        if shown.practice:
            made.add_widget(Words(text=say("Practice, not evidence."), tone="haze"))
        made.add_widget(Words(text=shown.checked, role="small"))
        made.add_widget(Words(text=shown.decision, role="lead"))
        if shown.reused_head:
            made.add_widget(
                Words(text=shown.reused_head, tone="clay" if shown.shown_before else "haze")
            )
        for sentence in shown.conflicts:
            made.add_widget(Words(text=sentence, tone="clay"))
        return made

    def _altered(self, shown: PackageShown):
        for file in shown.altered:
            made = panel(
                say("Altered file: {path}", path=file.path),
                file.step,
                border="clay",
                title_tone="clay",
            )
            for head, digest in ((say("Expected"), file.expected), (say("Found"), file.found)):
                made.add_widget(pairs([(head, digest)], self._narrow(), MONO))
            yield made

    def _narrow(self) -> float:
        """The share of a row that its name takes: more where letters are large."""
        return 0.14 if self.frame.width >= dp(1000) * sizes.percent / 100 else 0.24

    def _left(self, shown: PackageShown) -> Rows:
        rows = Rows()
        if shown.failing:
            rows.add_widget(self._checks(say("Fails"), shown.failing, "clay", True))
        if shown.unchecked:
            rows.add_widget(self._checks(say("Could not be checked"), shown.unchecked, "haze"))
        if shown.holding:
            rows.add_widget(self._checks(say("Holds"), shown.holding, "mint"))
        if rows.children:
            rows.add_widget(
                plate(
                    say("Check again"),
                    "check-again",
                    lambda: self.desk.check_again(lambda: self.frame.go("desk-package")),
                )
            )
        return rows

    def _checks(self, title: str, checks, tone: str, items: bool = False) -> Panel:
        made = panel(title, border=tone, title_tone=tone)
        for check in checks:
            made.add_widget(Words(text=f"{check.label}: {check.sentence}", role="small"))
            if items:
                for item in check.items:
                    made.add_widget(
                        Words(text=str(item), role="small", tone=tone, padding=[dp(24), 0, 0, 0])
                    )
        return made

    def _right(self, shown: PackageShown, opened) -> Rows:
        rows = Rows()
        rows.add_widget(self._field)
        tone = "mint" if shown.key_holds else "clay"
        sealed = panel(say("Who sealed it"), shown.sealed_by, border=tone)
        if shown.key:
            sealed.add_widget(
                Words(text=say("SHA-256 of the key: {digest}", digest=shown.key), role="small")
            )
        rows.add_widget(sealed)
        rows.add_widget(self._owed(opened))
        if shown.reused:
            reused = panel(shown.reused_head, border="haze", title_tone="haze")
            for sentence in shown.reused:
                reused.add_widget(Words(text=sentence, role="small"))
            reused.add_widget(
                plate(
                    say("See both photos"),
                    "pairs",
                    lambda: self.frame.go("desk-pairs"),
                    mark="shutter",
                )
            )
            rows.add_widget(reused)
        if shown.unsearched:
            unsearched = Panel(border="haze")
            for sentence in shown.unsearched:
                unsearched.add_widget(Words(text=sentence, role="small"))
            rows.add_widget(unsearched)
        facts = panel(say("What it says of itself"))
        facts.add_widget(pairs(shown.facts))
        rows.add_widget(facts)
        history = panel(say("History"))
        for line in shown.history:
            history.add_widget(Words(text=line, role="small"))
        rows.add_widget(history)
        return rows

    def _owed(self, opened) -> Panel:
        made = panel(say("Owed and shown"))
        if opened.why_not:
            made.add_widget(Words(text=opened.why_not, tone="clay"))
        elif opened.contents is None:
            made.add_widget(Words(text=say("Reading the package …")))
        elif opened.contents.summary is None:
            made.add_widget(Words(text=say("Its journal cannot be shown."), tone="clay"))
        else:
            shown = shown_of(opened.contents.summary)
            made.add_widget(Words(text=shown.outcome))
            made.add_widget(Words(text=shown.head))
            for text in shown.missing:
                made.add_widget(Words(text=say("Missing: {what}", what=text), tone="clay"))
            for text in shown.kept:
                made.add_widget(
                    Words(text=say("Kept with a reason: {what}", what=text), role="small")
                )
            if shown.clocks:
                made.add_widget(Words(text=say("Clock anomalies"), tone="haze"))
            for text in shown.clocks:
                made.add_widget(Words(text=text, role="small"))
        return made

    # --- comparing ----------------------------------------------------------------------

    def typed(self, text: str) -> None:
        """A keyboard or a hand scanner that types."""
        if not self._asking:
            self._typed = (self._typed + text)[:120]
            self._answer = ("", "chalk")
            self._show_typed()

    def key(self, name: str) -> None:
        if name == "rub out":
            self._typed = self._typed[:-1]
        elif name == "enter" and self._typed.strip():
            self._compare(self._typed)
            self._typed = ""
        self._show_typed()

    def _compare(self, text: str) -> None:
        same, words = compare_words(self.desk.opened.entry, text)
        self._answer = (words, "mint" if same else "clay")

    def _show_typed(self) -> None:
        if not self._asking:
            self._field.display(self._typed, *self._answer)

    def _scan(self) -> None:
        def done(text: str, _by: str) -> None:
            self.frame.go("desk-package")
            self._compare(text)
            self._show_typed()

        self.frame.go(
            "entry",
            asked=say("Serial or claim number to compare"),
            scan=True,
            done=done,
            main=say("Compare"),
            back=lambda: self.frame.go("desk-package"),
        )

    # --- deciding and the ways on ---------------------------------------------------------

    def _ask(self, what: str) -> None:
        self._asking = what
        self.page.scroll_y = 1
        self.show()

    def _ask_decision(self, shown: PackageShown) -> None:
        widgets = [
            Words(text=say("Decision on this package"), role="title"),
            Words(text=shown.verdict, tone="mint" if shown.good else "clay"),
            Words(text=shown.decision),
            plate(
                say("Accept"), "accepted", lambda: self._decide(ACCEPTED, shown.good), mark="done"
            ),
            plate(
                say("Return it, with reasons"),
                "returned",
                lambda: self._decide(RETURNED),
                mark="back",
            ),
            plate(
                say("Pass it to the supervisor"),
                "passed-to-supervisor",
                lambda: self._decide(PASSED_ON),
                mark="next",
            ),
            Words(text=say("A decision is added to the history. Earlier ones stay."), role="small"),
        ]
        self.page.refill(widgets)
        self.fill_row(plate(say("Back"), "back", lambda: self._ask(""), mark="back"))

    def _decide(self, decision: str, at_once: bool = False) -> None:
        def enter(reason: str = "") -> None:
            self.desk.decide(decision, reason, lambda: self.frame.go("desk-package"))

        if at_once:
            enter()
            return
        asked = {
            ACCEPTED: say("A check fails. Why is it accepted all the same?"),
            RETURNED: say("Why is it returned, and what is asked for?"),
            PASSED_ON: say("What is the supervisor to look at?"),
        }[decision]
        self.ask(asked, enter, "desk-package")

    def _ask_paper(self, _shown: PackageShown) -> None:
        self.page.refill(
            [
                Words(text=say("Print the report as PDF"), role="title"),
                Words(text=say("With photos, checksums and the fingerprint as a code.")),
                *(
                    plate(paper, f"paper {paper}", lambda p=paper: self._print(p), mark="rule")
                    for paper in ("A4", "Letter")
                ),
            ]
        )
        self.fill_row(plate(say("Back"), "back", lambda: self._ask(""), mark="back"))

    def _print(self, paper: str) -> None:
        self._ask("")
        self.desk.print(paper)

    def _review(self) -> None:
        self.desk.open_review(lambda: self.frame.go("desk-review"))
