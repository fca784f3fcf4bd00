"""Choosing packages: through folders and disks, one by one or everything below a folder."""

from __future__ import annotations

from pathlib import Path

from evidence_app.language import say, say_many
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.presenting.folder import list_folder
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.widgets import ActionRow, Plate, Words, fill

_A_PAGE = 30


class ChooseScreen(DeskBase):
    """``_chosen`` are the packages ticked, in any folder."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._folder = Path.home()

    def enter(self) -> None:
        super().enter()
        self._listing, self._from, self._chosen = None, 0, set()
        self._go(self._folder)

    def show(self) -> None:
        listing = self._listing
        if not self.differs(listing, self._from, frozenset(self._chosen)):
            return
        widgets = [Words(text=say("Choose packages"), role="title")]
        if listing is None:
            self.page.refill([*widgets, Words(text=say("Looking …"))])
        else:
            self.page.refill([*widgets, *self._rows(listing)])
        count = len(self._chosen)
        take = (
            plate(
                say_many("Take in {count} package", "Take in {count} packages", count),
                "take",
                self._take,
                "main",
            )
            if count
            else None
        )
        every = (
            plate(
                say("Take in everything below this folder"),
                "every",
                self._take_folder,
                "plain" if count else "main",
            )
            if listing is not None
            else None
        )
        self.fill_row(
            plate(say("Back"), "back", lambda: self.frame.go("desk"), mark="back"), every, take
        )

    def _rows(self, listing):
        places = ActionRow(padding=[0, 0])
        fill(
            places,
            [
                plate(item.words, f"place {item.path}", lambda p=item.path: self._go(p))
                for item in listing.places
            ]
            + [plate(say("Type a path"), "type-path", self._type_path, mark="rule")],
        )
        yield places
        yield Words(text=str(listing.folder), tone="brass")
        if listing.up is not None:
            yield plate(say("The folder above"), "up", lambda: self._go(listing.up), "row", "back")
        page = listing.items[self._from : self._from + _A_PAGE]
        if not listing.items:
            yield Words(text=say("There is no package and no folder here."))
        for item in page:
            yield self._item(item)
        if self._from:
            yield plate(say("Show those before"), "previous", lambda: self._turn(-_A_PAGE))
        if self._from + _A_PAGE < len(listing.items):
            yield plate(say("Show more"), "next", lambda: self._turn(_A_PAGE))

    def _item(self, item) -> Plate:
        text = f"{item.path.name}\n{item.words}"
        if item.kind == "folder":
            return Plate(
                text=text,
                kind="row",
                mark="next",
                action=f"folder {item.path.name}",
                call=lambda: self._go(item.path),
            )
        ticked = item.path in self._chosen
        return Plate(
            text=text,
            kind="plain" if ticked else "row",
            mark="done" if ticked else "owed",
            action=f"package {item.path.name}",
            call=lambda: self._tick(item.path),
        )

    def _go(self, folder: Path) -> None:
        def listed(listing) -> None:
            self._folder, self._listing, self._from = folder, listing, 0
            self.page.scroll_y = 1
            self.show()

        self.place.worker.run(lambda: list_folder(folder), listed, self._not_listed)

    def _not_listed(self, error) -> None:
        """A disk may be gone by now: the home folder is always there."""
        self.place.refused(error)
        if self._listing is None and self._folder != Path.home():
            self._go(Path.home())

    def _tick(self, path: Path) -> None:
        self._chosen ^= {path}
        self.show()

    def _turn(self, by: int) -> None:
        self._from = max(0, self._from + by)
        self.page.scroll_y = 1
        self.show()

    def _type_path(self) -> None:
        def typed(text: str, _by: str) -> None:
            self.frame.go("desk")
            self.desk.take_in([Path(text).expanduser()])

        self.frame.go(
            "entry",
            asked=say("Path of a package, a folder or a disk"),
            done=typed,
            given=str(self._folder),
            main=say("Take it in"),
            back=lambda: self.frame.go("desk-choose"),
        )

    def _take(self) -> None:
        chosen = sorted(self._chosen)
        self.frame.go("desk")
        self.desk.take_in(chosen)

    def _take_folder(self) -> None:
        self.frame.go("desk")
        self.desk.take_in([self._folder])
