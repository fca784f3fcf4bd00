"""Two numbers one under the other, sign by sign, with what differs framed and crossed."""

from kivy.graphics import Line
from kivy.metrics import dp

from evidence_app.language import say, say_many
from evidence_app.tablet.presenting.working.reading import side_by_side
from evidence_app.tablet.widgets import Flow, Rows, Words
from evidence_app.tablet.widgets.paint import paint

_LEAST = 46  # dp, a sign


def compared_numbers(job: str, read: str) -> Rows:
    """The job's number above, the one that was read below."""
    head = Words(text=say("Above: the number of this job. Below: what was entered."), role="body")
    pairs = side_by_side(job, read)
    signs = Flow(*(_Pair(*pair) for pair in pairs), least=_LEAST, spread=False)
    count = sum(differs for _, _, differs in pairs)
    told = say_many(
        "{count} sign differs: it is framed and marked ≠.",
        "{count} signs differ: they are framed and marked ≠.",
        count,
    )
    return Rows(head, signs, Words(text=told, tone="clay"))


class _Pair(Rows):
    def __init__(self, above: str, below: str, differs: bool) -> None:
        super().__init__(spacing=0, padding=[0, dp(4)])
        tone = "clay" if differs else "chalk"
        for text in (above or "–", "≠" if differs else " ", below or "–"):
            self.add_widget(Words(text=text, role="title", tone=tone, halign="center"))
        self._differs = differs
        self.bind(pos=self._draw, size=self._draw)

    def _draw(self, *_) -> None:
        self.canvas.after.clear()
        if self._differs:
            with self.canvas.after:
                paint("clay")
                Line(rectangle=(*self.pos, *self.size), width=dp(2))
