"""The photos of a report as PDF: two in a row, a measurement's drawing beside its photo."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, Paragraph, Spacer, Table

from evidence_app.package.report import words
from evidence_app.package.report.pdf_page import STYLES, text
from evidence_app.package.report.view import Builder, File, PhotoCard

_PHOTO_HIGH = 47 * mm  # three rows with their words on a page


def photos(builder: Builder, width: float) -> Iterator[Flowable]:
    groups = builder.photo_groups()
    if not groups:
        return
    yield Paragraph("Photos", STYLES["heading"])
    yield Paragraph(
        "Small copies for looking. The originals stand in the package under the names given, "
        "with these checksums.",
        STYLES["intro"],
    )
    for group in groups:
        yield Paragraph(text(group.heading), STYLES["subheading"])
        cards = []
        for view in group.views:
            cards += [view.current] if view.current else []
            cards += view.earlier
        for row in _rows(cards, width / 2 - 3 * mm):
            yield Table([row], colWidths=[width / 2] * 2,
                        style=[("VALIGN", (0, 0), (-1, -1), "TOP"),
                               ("LEFTPADDING", (0, 0), (-1, -1), 0)])  # fmt: skip


def _rows(cards: list[PhotoCard], width: float) -> Iterator[list]:
    """Two beside each other; what was drawn of a measurement stands beside its photo."""
    row: list = []
    for card in cards:
        drawings = list(_drawings(card, width))
        if row and (drawings or len(row) == 2):
            yield [*row, ""][:2]
            row = []
        row.append(_photo(card, width))
        for drawing in drawings:
            if len(row) == 2:
                yield row
                row = []
            row.append(drawing)
    if row:
        yield [*row, ""][:2]


def _drawings(card: PhotoCard, width: float) -> Iterator[list[Flowable]]:
    for measured in card.measurements:
        if measured.picture is not None and measured.file is not None:
            yield [
                _picture(measured.picture, width),
                Paragraph(f"<b>Drawing of the measurement on photo {card.photo.sequence}</b>",
                          STYLES["small"]),
                *_named(measured.file),
            ]  # fmt: skip


def _named(file: File) -> list[Flowable]:
    return [
        Paragraph(text(file.path), STYLES["small"]),
        Paragraph(f"SHA-256 {text(file.sha256)}", STYLES["code"]),
        Spacer(1, 3 * mm),
    ]


def _photo(card: PhotoCard, width: float) -> list[Flowable]:
    photo = card.photo
    parts: list[Flowable] = [_picture(card.picture, width)]
    lines = [
        f"<b>{photo.sequence}. {text(card.title)}</b>",
        f"{text(words.when(photo.wall))}; {text(card.status)}",
    ]
    if photo.kept_reason is not None:
        lines.append(f"Reason given: “{text(photo.kept_reason)}”")
    lines += [text(sentence) for sentence in card.failing]
    lines += [
        text(f"{measured.shown.sentence or ''} ({measured.verdict})".strip())
        for measured in card.measurements
    ]
    parts += [Paragraph(line, STYLES["small"]) for line in lines]
    return parts + _named(card.file)


def _picture(shown, width: float) -> Flowable:
    if shown.uri is None:
        return Paragraph(text(shown.problem), STYLES["lead"])
    scale = min(width / shown.width, _PHOTO_HIGH / shown.height)
    data = base64.b64decode(shown.uri.partition(",")[2])
    return Image(io.BytesIO(data), shown.width * scale, shown.height * scale, hAlign="LEFT")
