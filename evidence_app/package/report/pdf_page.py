"""The pages of a printed report: fonts, styles, margins, page numbers, the code.

The typeface is the one that the drawing library brings along, because it has
the letters of many languages; a character that it does not have is printed as
its number, never left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import BinaryIO
from xml.sax.saxutils import escape

import segno
from reportlab.lib.colors import HexColor, black
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, Paragraph, Table

from evidence_app.package.report.words import visible

_FONT, _BOLD, _MONO = "Report", "Report-Bold", "Report-Mono"
_FILES = {_FONT: "DejaVuSans.ttf", _BOLD: "DejaVuSans-Bold.ttf", _MONO: "DejaVuSansMono.ttf"}
_RULE = HexColor("#808080")
_LONGEST = 4000


def margins() -> float:
    """Left and right margin in points."""
    return 18 * mm


def _style(name: str, size: float, font: str = _FONT, before: float = 0, **more) -> ParagraphStyle:
    return ParagraphStyle(name, fontName=font, fontSize=size, leading=size * 1.32,
                          spaceBefore=before, spaceAfter=1.5, splitLongWords=1, **more)  # fmt: skip


STYLES = {
    "title": _style("title", 19, _BOLD),
    "heading": _style("heading", 13, _BOLD, 12, keepWithNext=1),
    "subheading": _style("subheading", 9.5, _BOLD, 6, keepWithNext=1),
    "lead": _style("lead", 10.5),
    "body": _style("body", 9),
    "small": _style("small", 7.5),
    "intro": _style("intro", 7.5, keepWithNext=1),
    "code": _style("code", 6.6, _MONO),
    "fingerprint": _style("fingerprint", 15, _MONO),
}


class Report(BaseDocTemplate):
    """A document whose every page has ``foot`` and "page n of m" at its end, and ``banner`` (if
    any) at its top."""

    def __init__(self, out: BinaryIO, page: tuple[float, float], foot: str, banner: str) -> None:
        register_fonts()
        super().__init__(out, pagesize=page, title=plain(foot), author="", invariant=1,
                         creator="evidence-app", leftMargin=margins(), rightMargin=margins(),
                         topMargin=20 * mm, bottomMargin=20 * mm)  # fmt: skip
        self._foot, self._banner = plain(foot), banner

    def frame(self) -> Frame:
        return Frame(self.leftMargin, self.bottomMargin, self.width, self.height,
                     0, 0, 0, 0, id="all")  # fmt: skip

    def build(self, flowables, *given, **more) -> None:
        foot, banner = self._foot, self._banner

        class Numbered(_Numbered):
            words = (foot, banner)

        super().build(flowables, *given, canvasmaker=Numbered, **more)


class _Numbered(Canvas):
    """Keeps the pages until their number is known."""

    words: tuple[str, str] = ("", "")

    def __init__(self, *given, **more) -> None:
        super().__init__(*given, **more)
        self._kept: list[dict] = []

    def showPage(self) -> None:
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._kept, start=1):
            self.__dict__.update(page)
            self._margin(number, len(self._kept))
            super().showPage()
        super().save()

    def _margin(self, number: int, count: int) -> None:
        foot, banner = self.words
        width, height = self._pagesize
        self.setStrokeColor(_RULE)
        self.setLineWidth(0.5)
        self.line(margins(), 15 * mm, width - margins(), 15 * mm)
        self.setFillColor(black)
        self.setFont(_FONT, 7.5)
        pages = f"page {number} of {count}"
        room = width - 2 * margins() - pdfmetrics.stringWidth(pages, _FONT, 7.5) - 8
        self.drawString(margins(), 10.5 * mm, _cut(foot, room))
        self.drawRightString(width - margins(), 10.5 * mm, pages)
        if banner:
            self.setFont(_BOLD, 11)
            self.drawCentredString(width / 2, height - 13 * mm, banner)


class Code(Flowable):
    """A QR code of ``words``, ``side`` points wide with its quiet zone."""

    def __init__(self, words: str, side: float) -> None:
        super().__init__()
        self._matrix = segno.make(words, error="m", micro=False).matrix
        self.width = self.height = side

    def draw(self) -> None:
        # Four modules of quiet zone on each side (ISO/IEC 18004).
        step = self.width / (len(self._matrix) + 8)
        for row, modules in enumerate(self._matrix):
            for column, dark in enumerate(modules):
                if dark:
                    self.canv.rect((column + 4) * step, self.height - (row + 5) * step,
                                   step * 1.01, step * 1.01, stroke=0, fill=1)  # fmt: skip


def facts(rows: Iterable[tuple[str, str | None]], width: float) -> Table:
    """(name, value) in two columns."""
    cells = [[Paragraph(f"<b>{text(name)}</b>", STYLES["body"]),
              Paragraph(text(value), STYLES["body"])] for name, value in rows]  # fmt: skip
    return Table(cells, colWidths=[width * 0.24, width * 0.76],
                 style=[("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, -1), 0),
                        ("TOPPADDING", (0, 0), (-1, -1), 1),
                        ("BOTTOMPADDING", (0, 0), (-1, -1), 1)])  # fmt: skip


def grid(rows: Sequence[tuple[str, ...]], columns: list[float], style: str = "small") -> Table:
    """Texts in columns with a rule under each row."""
    cells = [[Paragraph(text(cell), STYLES[style]) for cell in row] for row in rows]
    return Table(cells, colWidths=columns,
                 style=[("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, -1), 0),
                        ("LINEBELOW", (0, 0), (-1, -1), 0.3, _RULE),
                        ("TOPPADDING", (0, 0), (-1, -1), 1),
                        ("BOTTOMPADDING", (0, 0), (-1, -1), 2)])  # fmt: skip


def listed(lines: Iterable[str]) -> Iterator[Paragraph]:
    for line in lines:
        yield Paragraph(f"– {text(line)}", STYLES["body"])


def text(value: object) -> str:
    """``value`` as a paragraph may hold it: escaped, hidden and unprintable characters as their
    number, line breaks kept. Very long texts are cut, and say so: one word without end would
    not fit on any page."""
    return escape(plain(value)).replace("\n", "<br/>")


def plain(value: object) -> str:
    shown = str(visible(value))
    if len(shown) > _LONGEST:
        shown = f"{shown[:_LONGEST]} … ({len(shown)} characters; all of them stand in the package)"
    known = _glyphs()
    return "".join(c if c in "\n\t" or ord(c) in known else f"⟨U+{ord(c):04X}⟩" for c in shown)


@cache
def register_fonts() -> None:
    folder = _folder()
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(_FONT, normal=_FONT, bold=_BOLD, italic=_FONT, boldItalic=_BOLD)


@cache
def _glyphs() -> frozenset[int]:
    register_fonts()
    return frozenset(pdfmetrics.getFont(_MONO).face.charToGlyph) & frozenset(
        pdfmetrics.getFont(_FONT).face.charToGlyph
    )


def _folder() -> Path:
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


def _cut(words: str, room: float) -> str:
    while words and pdfmetrics.stringWidth(words, _FONT, 7.5) > room:
        words = words[:-2].rstrip() + "…"
    return words
