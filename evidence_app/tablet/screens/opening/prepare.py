"""Cautions read and acknowledged one by one, then tools and parts ticked one by one."""

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting.opening.prepare import Preparing, preparing
from evidence_app.tablet.screens.base import BaseScreen, caution_panel, plate, tiles
from evidence_app.tablet.widgets import Plate, Words


class PrepareScreen(BaseScreen):
    def show(self) -> None:
        if self.job is None or self.job.state.phase != "preparing":
            return
        shown = preparing(self.job.step_list, self.job.state)
        if not self.differs(shown):
            return
        widgets = [Words(text=shown.title, role="title"), Words(text=shown.lead)]
        if shown.caution is not None:
            widgets += [caution_panel(shown.caution, "lead"), Words(text=shown.defers_to, role="small")]
            self.page.scroll_y = 1
        for head, items in shown.items:
            widgets += [Words(text=head, role="lead", tone="brass"), tiles(*map(self._item, items))]
        self.page.refill(widgets)
        action, words = shown.main or ("", "")
        main = plate(self.said_with(words, shown.phrase), action, lambda: self._go_on(shown), "main")
        self.fill_row(self.pause_plate(), main if action else None)

    def _go_on(self, shown: Preparing) -> None:
        if shown.caution is not None:
            self.place.do(c.AcknowledgeCaution(shown.caution.id))
        else:
            self.place.do(c.GoOn(), self.frame.home)

    def about(self) -> object:
        return self._filled and self._filled[0].title

    def _item(self, item) -> Plate:
        words = say("at hand") if item.ticked else say("not ticked yet")
        return Plate(
            text=f"{item.name}\n{words if item.ticked else self.said_with(words, item.phrase)}",
            mark="done" if item.ticked else "owed",
            kind="row" if item.ticked else "plain",
            disabled=item.ticked,
            action=f"tick {item.list} {item.id}",
            call=lambda: self.place.do(c.TickItem(item.list, item.id)),
        )
