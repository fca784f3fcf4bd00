"""The scale card as a PDF at its true size, from the layout file.

A grey's place between the printer's black and blank paper goes through the sRGB curve. The same arguments give the same bytes.
"""

import io

import cv2
import numpy as np
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from evidence_app.errors import EvidenceError
from evidence_app.photo.card.layout import CardLayout, MarkerPlace, card_layout
from evidence_app.photo.card.light import linear_to_srgb
from evidence_app.sentence import sentence

PAPERS = {"A4": A4, "Letter": LETTER}
_FROM_TOP = 50.0  # mm from the paper's top to the card's middle
_MOST_SERIAL = 20


def card_pdf(serial: str, paper: str = "A4") -> bytes:
    """PDF bytes of one card with its serial. Raises EvidenceError for a serial or paper
    that cannot be printed."""
    if paper not in PAPERS:
        raise EvidenceError.none_of(PAPERS, sentence("there is no paper size “{paper}”", paper=paper))
    if not serial.strip() or len(serial) > _MOST_SERIAL or not serial.isascii() or not serial.isprintable():
        raise EvidenceError(
            sentence("the card's serial cannot be printed"),
            where=serial[:40],
            remedy=sentence("use 1 to {MOST_SERIAL} letters, digits and hyphens", MOST_SERIAL=_MOST_SERIAL),
        )
    layout = card_layout()
    out = io.BytesIO()
    page = PAPERS[paper]
    canvas = Canvas(out, pagesize=page, invariant=1)
    canvas.setTitle(f"{layout.name} {serial}")
    canvas.setCreator("evidence-app")
    canvas.saveState()
    # From here on as in the layout: mm, y down, origin in the card's middle.
    canvas.translate(page[0] / 2, page[1] - _FROM_TOP * mm)
    canvas.scale(mm, -mm)
    _outline(canvas, layout)
    _patches(canvas, layout)
    for marker in layout.markers.at:
        _marker(canvas, layout, marker)
    _bar(canvas, layout)
    canvas.restoreState()
    _words(canvas, layout, serial, page)
    _instructions(canvas, layout, page)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _outline(canvas: Canvas, layout: CardLayout) -> None:
    canvas.setLineWidth(0.1)
    canvas.setStrokeGray(0.6)
    width, height = layout.outline.width, layout.outline.height
    canvas.roundRect(-width / 2, -height / 2, width, height, layout.outline.corner_radius)


def _patches(canvas: Canvas, layout: CardLayout) -> None:
    for patch in layout.patches:
        ink = (patch.reflectance - layout.print.black) / (layout.print.paper - layout.print.black)
        grey = float(linear_to_srgb(np.array(np.clip(ink, 0, 1))))
        canvas.setFillGray(grey)
        canvas.rect(
            patch.x - patch.width / 2,
            patch.y - patch.height / 2,
            patch.width,
            patch.height,
            stroke=0,
            fill=1,
        )


def _marker(canvas: Canvas, layout: CardLayout, marker: MarkerPlace) -> None:
    """Runs of black modules as single rectangles, so that no hairline shows between."""
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, layout.markers.dictionary))
    modules = known.markerSize + 2
    black = cv2.aruco.generateImageMarker(known, marker.id, modules) == 0
    side = layout.markers.side / modules
    left, top = marker.x - layout.markers.side / 2, marker.y - layout.markers.side / 2
    canvas.setFillGray(0)
    shape = canvas.beginPath()
    for row in range(modules):
        column = 0
        while column < modules:
            end = column
            while end < modules and black[row, end]:
                end += 1
            if end > column:
                shape.rect(left + column * side, top + row * side, (end - column) * side, side)
            column = end + 1
    canvas.drawPath(shape, stroke=0, fill=1)


def _bar(canvas: Canvas, layout: CardLayout) -> None:
    bar = layout.check_bar
    x0, x1 = bar.x - bar.length / 2, bar.x + bar.length / 2
    canvas.setFillGray(0)
    canvas.rect(x0, bar.y - bar.thickness / 2, bar.length, bar.thickness, stroke=0, fill=1)
    for left in (x0, x1 - bar.thickness):
        canvas.rect(left, bar.y - bar.tick / 2, bar.thickness, bar.tick, stroke=0, fill=1)
    for place in np.arange(x0 + bar.minor, x1 - 0.1, bar.minor):
        canvas.rect(
            place - bar.thickness / 2, bar.y - bar.tick / 4, bar.thickness, bar.tick / 2, stroke=0, fill=1
        )


def _words(canvas: Canvas, layout: CardLayout, serial: str, page: tuple[float, float]) -> None:
    canvas.setFillGray(0)
    for line, words in (
        (layout.text.title, layout.name),
        (layout.text.serial, f"{serial}  {layout.check_bar.length:g} mm"),
    ):
        canvas.setFont("Helvetica", line.height * mm / 0.72)
        canvas.drawString(page[0] / 2 + line.x * mm, page[1] - (_FROM_TOP + line.y) * mm, words)


def _instructions(canvas: Canvas, layout: CardLayout, page: tuple[float, float]) -> None:
    bar = layout.check_bar
    lines = (
        "Print at 100 percent (“actual size”), on matt white paper, never “fit to page”.",
        f"Hold a steel rule against the bar: its outer edges are {bar.length:g} mm apart.",
        f"A card whose bar is off by more than {bar.length * layout.unconfirmed.pitch_relative_limit:g}"
        " mm must not be used before it is confirmed (below).",
        "Glue the card to a flat, stiff backing without bubbles, then cut along the grey line.",
        "Measure its thickness with the backing: ______ mm      Bar: ______ mm      Date: ________",
        "Confirm both once for each printed batch:",
        "    evidence-app card confirm SERIAL --bar-mm 50.0 --thickness-mm 0.5",
        "Lay it flat beside the seam, its long side along it, 3 to 8 mm away; nothing on it.",
    )
    canvas.setFont("Helvetica", 10)
    canvas.setFillGray(0.15)
    y = page[1] - (_FROM_TOP + layout.outline.height / 2 + 14) * mm
    for line in lines:
        canvas.drawString(page[0] / 2 - layout.outline.width / 2 * mm, y, line)
        y -= 6 * mm
