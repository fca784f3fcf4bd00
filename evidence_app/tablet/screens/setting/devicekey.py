"""This tablet's key: its PIN tried and changed, and what the depot's key list says of it."""

from collections.abc import Callable

from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.tablet import sealing
from evidence_app.tablet.presenting.problem import problem_words
from evidence_app.tablet.presenting.trust import key_list_shown
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.screens.pin import ask_device_pin, choose_pin
from evidence_app.tablet.widgets import Panel, Words


class DeviceKeyScreen(BaseScreen):
    """``told`` is what came of the last thing done here, as (words, tone)."""

    def enter(self, told: tuple[str, str] | None = None) -> None:
        super().enter()
        self._told = told
        self._needs = self._sha256 = self._list = None
        key_list = self.place.settings.key_list

        def work():
            sha256 = sealing.device_key_sha256()
            listed = key_list_shown(key_list, sha256, self.place.clock) if key_list else None
            return sealing.key_needs(), sha256, listed

        def done(found) -> None:
            self._needs, self._sha256, self._list = found
            self.show()

        def bad(error) -> None:
            self._needs, self._sha256 = sealing.key_needs(), sealing.device_key_sha256()
            self._told = self._told or (problem_words(error), "clay")
            self.show()

        self.place.worker.run(work, done, bad)

    def show(self) -> None:
        if not self.differs(
            self._told, self._needs, self._sha256, self._list, self.place.settings.key_list
        ):
            return
        widgets = [Words(text=say("This tablet's key"), role="title")]
        if self._told is not None:
            widgets.append(Panel(Words(text=self._told[0], role="lead"), border=self._told[1]))
        widgets += self._key_rows()
        name = say("Key list of the depot")
        value = self.place.settings.key_list or say("none")
        widgets.append(plate(f"{name}\n{value}", "key-list", self._open_list, mark="rule"))
        if self._list is not None:
            widgets += [
                Words(text=self._list.list_words),
                Words(text=self._list.key_words, tone="mint" if self._list.holds else "clay"),
            ]
        self.page.refill(widgets)
        self.fill_row(self.back_plate(self.door("settings")))

    def _key_rows(self) -> list:
        if self._needs is None:
            return [Words(text=say("Looking at the key …"))]
        if self._needs == "new-pin":
            words = say("There is no key on this tablet yet. It seals the packages and is made once.")
            make = plate(say("Make the key and choose its PIN"), "make-key", self._make, mark="next")
            return [Words(text=words), make]
        rows = []
        if self._sha256 is not None:
            words = say(
                "The key is named {sha}. Its public half, for the depot: {path}",
                sha=self._sha256[:16] + " …",
                path=sealing.public_key_path(),
            )
            rows.append(Words(text=words, role="small"))
        if self._needs == "pin":
            rows += [
                plate(say("Try the PIN"), "try-pin", self._try, mark="next"),
                plate(say("Change the PIN"), "change-pin", self._change, mark="next"),
            ]
        else:
            rows.append(Words(text=say("The key has no PIN, on the depot's word.")))
        return rows

    # --- the PIN -----------------------------------------------------------------------

    def _again(self, words: str = "", tone: str = "mint") -> None:
        self.frame.go("devicekey", told=(words, tone) if words else None)

    def _work(self, work, good: str) -> None:
        """Do it on the worker, then say here what came of it."""
        self.frame.go("devicekey", told=(say("Trying the PIN …"), "brass"))
        self.place.worker.run(work, lambda _: self._again(good), self._failed)

    def _failed(self, error: EvidenceError) -> None:
        self._again(problem_words(error), "clay")

    def _make(self) -> None:
        choose_pin(
            self.frame,
            lambda pin: self._work(
                lambda: sealing.open_device_key(pin),
                say("The key is made. Remember the PIN: without it nothing can be sealed with this key."),
            ),
            self._again,
        )

    def _try(self) -> None:
        self._with_pin(lambda _: self._again(say("The PIN is right.")))

    def _change(self) -> None:
        def change(pin: str) -> None:
            choose_pin(
                self.frame,
                lambda new: self._work(
                    lambda: sealing.change_device_pin(pin, new),
                    say("The PIN is changed. The key is the same one."),
                ),
                self._again,
            )

        self._with_pin(change)

    def _with_pin(self, then: Callable[[str], None], problem: EvidenceError | None = None) -> None:
        """``then(pin)`` once the PIN is right; after a wrong one it is asked for again."""

        def given(pin: str) -> None:
            self.frame.go("devicekey", told=(say("Trying the PIN …"), "brass"))
            self.place.command(
                lambda: sealing.open_device_key(pin),
                lambda _: then(pin),
                lambda error: self._with_pin(then, error),
            )

        ask_device_pin(self.frame, given, self._again, problem)

    # --- the list ------------------------------------------------------------------------

    def _open_list(self) -> None:
        def done(text: str) -> None:
            def good(_shown) -> None:
                self.place.change_settings(key_list=text)
                self._again(say("The key list is in use."))

            self.place.worker.run(
                lambda: key_list_shown(text, sealing.device_key_sha256(), self.place.clock),
                good,
                self._failed,
            )

        asked, given = say("Path of the depot's key list file"), self.place.settings.key_list
        self.ask(asked, done, self._again, given=given)
