"""Desk settings: who works here, whose keys count, the supervisor's key, the register."""

from __future__ import annotations

from pathlib import Path

from evidence_app.language import LANGUAGES, say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.settings import TEXT_SIZES
from evidence_app.tablet.widgets import Plate, Words


class DeskSettingsScreen(DeskBase):
    def show(self) -> None:
        settings, desk = self.place.settings, self.desk.settings
        if not self.differs(settings, desk):
            return
        self.page.refill(
            [
                Words(text=say("Desk settings"), role="title"),
                self._row(
                    say("Who works at this desk"),
                    desk.clerk or say("not set: “desk”"),
                    "clerk",
                    say("Who works at this desk"),
                ),
                self._row(
                    say("Key list of the depot"),
                    settings.key_list or say("none: whose key sealed a package is then not known"),
                    "key-list",
                    say("Path of the depot's key list file"),
                    self._key_list,
                ),
                self._row(
                    say("Time authorities that are trusted"),
                    desk.time_authority or say("none: time tokens are then not checked"),
                    "time-authority",
                    say("Path of a PEM file of time authorities"),
                ),
                self._row(
                    say("Supervisor"),
                    desk.supervisor or say("asked when countersigning"),
                    "supervisor",
                    say("Name of the supervisor"),
                ),
                self._row(
                    say("The supervisor's own key"),
                    str(desk.supervisor_key_path()),
                    "supervisor-key",
                    say("Path of the supervisor's own key"),
                ),
                self._row(
                    say("Register"),
                    str(desk.register_path()),
                    "register",
                    say("Path of the register's file"),
                ),
                Plate(
                    text=say("Practice packages")
                    + "\n"
                    + (
                        say("accepted: for training only")
                        if settings.practice
                        else say("refused: they are no evidence")
                    ),
                    action="practice",
                    mark="rule",
                    call=lambda: self.place.change_settings(practice=not settings.practice),
                ),
                Plate(
                    text=say("Text size") + f"\n{settings.text_size} %",
                    action="text-size",
                    mark="rule",
                    call=self._text_size,
                ),
                Plate(
                    text=say("Language") + f"\n{LANGUAGES[settings.language]}",
                    action="language",
                    mark="rule",
                    call=self._language,
                ),
            ]
        )
        self.fill_row(plate(say("Back"), "back", lambda: self.frame.go("desk"), mark="back"))

    def _row(self, name: str, value: str, action: str, asked: str, done=None) -> Plate:
        field = action.replace("-", "_")

        def entered(text: str) -> None:
            (done or (lambda x: self.desk.change(**{field: x})))(text)

        given = getattr(self.desk.settings, field, self.place.settings.key_list)
        return Plate(
            text=f"{name}\n{value}",
            action=action,
            mark="rule",
            call=lambda: self.ask(asked, entered, "desk-settings", given=given),
        )

    def _key_list(self, text: str) -> None:
        def work() -> None:
            from evidence_app.package.keys.keylist import open_key_list

            open_key_list(Path(text).expanduser())

        self.place.worker.run(
            work,
            lambda _: self.place.change_settings(key_list=str(Path(text).expanduser())),
            self.place.refused,
        )

    def _text_size(self) -> None:
        at = TEXT_SIZES.index(min(TEXT_SIZES, key=lambda s: abs(s - self.place.settings.text_size)))
        self.place.change_settings(text_size=TEXT_SIZES[(at + 1) % len(TEXT_SIZES)])

    def _language(self) -> None:
        names = list(LANGUAGES)
        at = names.index(self.place.settings.language)
        self.place.change_settings(language=names[(at + 1) % len(names)])
