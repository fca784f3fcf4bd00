"""The printed card, looked at as a printer draws it."""

from __future__ import annotations

import shutil
import subprocess

import cv2
import numpy as np
import pytest

from evidence_app.errors import EvidenceError
from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.print import card_pdf

DPI = 300
needs_renderer = pytest.mark.skipif(not shutil.which("pdftoppm"), reason="pdftoppm is not here")


def drawn(paper: str, folder) -> np.ndarray:
    (folder / "card.pdf").write_bytes(card_pdf("NQ-0042", paper))
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", folder / "card.pdf", folder / "page"], check=True)
    return cv2.imread(str(next(folder.glob("page*.pgm"))), cv2.IMREAD_GRAYSCALE)


@needs_renderer
@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_markers_are_printed_at_their_true_size(tmp_path, paper, size_mm):
    page = drawn(paper, tmp_path)
    assert page.shape[1] / DPI * 25.4 == pytest.approx(size_mm[0], abs=0.2)
    middles = find_markers(page).mean(axis=1) / DPI * 25.4
    first, second = card_layout().markers.at[:2]
    assert np.linalg.norm(middles[1] - middles[0]) == pytest.approx(second.x - first.x, abs=0.1)
    assert np.linalg.norm(middles[3] - middles[0]) == pytest.approx(18.0, abs=0.1)


@needs_renderer
def test_check_bar_is_50_mm_between_its_outer_edges(tmp_path):
    page = drawn("A4", tmp_path)
    middles = find_markers(page).mean(axis=1)
    per_mm = DPI / 25.4
    origin = middles.mean(axis=0)
    row = round(origin[1] + (card_layout().check_bar.y + 1.5) * per_mm)
    line = page[row, round(origin[0] - 28 * per_mm) : round(origin[0] + 28 * per_mm)]
    dark = np.flatnonzero(line < 128)
    assert (dark[-1] - dark[0] + 1) / per_mm == pytest.approx(50.0, abs=0.1)


@needs_renderer
def test_patches_get_lighter_from_left_to_right(tmp_path):
    page = drawn("A4", tmp_path)
    origin = find_markers(page).mean(axis=(0, 1))
    per_mm = DPI / 25.4
    grey = [
        int(page[round(origin[1] + p.y * per_mm), round(origin[0] + p.x * per_mm)])
        for p in card_layout().patches
    ]
    assert grey[0] < 10
    assert grey[-1] > 245
    assert grey == sorted(set(grey))


def test_the_same_card_is_the_same_file():
    assert card_pdf("NQ-0042") == card_pdf("NQ-0042")


@pytest.mark.parametrize("serial", ["", " ", "x" * 21, "Nörd", "a\nb"])
def test_a_serial_that_cannot_be_printed_is_refused(serial):
    with pytest.raises(EvidenceError, match="serial"):
        card_pdf(serial)


def test_another_paper_is_refused():
    with pytest.raises(EvidenceError, match="paper"):
        card_pdf("NQ-0042", "A5")
