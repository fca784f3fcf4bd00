"""A step list read as plain text shows everything a person owes."""

from __future__ import annotations

import pytest

from evidence_app.errors import EvidenceError
from evidence_app.locations import sample
from evidence_app.steplist.load import load
from evidence_app.steplist.show import describe
from tests.steplist.valid import VALID, changed, read

SAMPLES = (
    "ossmere-h7-window-rebond",
    "ossmere-h7-window-rebond-cellular",
    "ossmere-h7-bail-stand-exchange",
)


@pytest.mark.parametrize("name", SAMPLES)
def test_sample_fits_80_columns(name):
    text = describe(load(sample(f"{name}.toml")))
    assert [line for line in text.splitlines() if len(line) > 80] == []


def test_short_list_reads_as_written_here():
    assert describe(read(VALID), "long") == LONG


def test_variant_numbers_its_own_steps():
    text = describe(read(VALID), "short")
    assert "  3. Press\n" in text and "Extend" not in text


def test_whole_list_marks_the_steps_of_one_variant():
    assert "  3. Extend [only long]\n" in describe(read(VALID))


def test_caution_of_no_shown_step_is_left_out():
    text = changed('title = "Look"', 'title = "Look"\nvariants = ["long"]')
    text = changed('not-clear = { redo-from = "look" }', 'not-clear = { redo-from = "press" }', text)
    text = changed(
        'kind = "residue"\nreference = "seat-clean"', 'kind = "mesh"\nunit = "mm"\nat-most = 1', text
    )
    assert "CAUTIONS" not in describe(read(text), "short")


def test_cautions_stand_gravest_first():
    text = describe(load(sample("ossmere-h7-window-rebond.toml")))
    section = text.partition("CAUTIONS\n")[2].partition("\n\n")[0]
    signals = [line.split()[0] for line in section.splitlines() if line[2] != " "]
    gravest_first = ["DANGER", "WARNING", "CAUTION", "NOTICE"]
    assert set(signals) == set(gravest_first)
    assert signals == sorted(signals, key=gravest_first.index)


def test_unknown_variant_is_refused():
    with pytest.raises(EvidenceError, match='no variant "wide"'):
        describe(read(VALID), "wide")


LONG = """\
Change the lens of a lamp
lamp-lens, version 1.0
Unit: Lamps, model L1
Variant: long (Long lamp)

Local codes come first.

CAUTIONS
  WARNING  Glass could break and cut.
           Wear gloves.

TOOLS
  - Feeler gauge

CONSUMABLES
  - Wipes

NEW EACH TIME
  - Lens

STEPS

  1. Identify
     Read the number.
     [ ] Reading: Serial number, as text or by scan

  2. Look
     Look into the seat.
     ! WARNING: glass
     [ ] Photo seat-clean, scale card in view: The seat
     [ ] Finding: Is the seat clean?
         clear:       go on
         not clear:   stop the repair (seat-dirty)
         cannot tell: redo from step 2 (look), at most 2 times, then stop the
                      repair (seat-dirty)

  3. Extend
     Pull the tube out.
     [ ] Photo tube: The tube
     [ ] Finding: Is the tube straight?
         clear:       go on
         not clear:   redo from step 3 (extend)
         cannot tell: redo from step 3 (extend)

  4. Press
     Press the lens home.
     [ ] Hold at least 10 s, at most 60 s: Thumb
     [ ] Reading: Thickest leaf (at least 0 and at most 0.25 mm)
     [ ] Photo seam, scale card in view: The seam (measured: gap, at least 0 and
         at most 0.2 mm)
     [ ] Photo seat-after, scale card in view: The seat (measured: residue,
         against photo seat-clean)
     [ ] Finding: Is the lens even?
         clear:       go on
         not clear:   redo from step 2 (look)
         cannot tell: go on

STOP RULES

  seat-dirty
     Reason: The seat is dirty.
     Required: Exchange the lamp.
     Forbidden: Do not scrape.
     [ ] Photo dirt: The dirt
     [ ] Voice note: the reason, spoken
     [ ] Name of: supervisor

  left-to-supervisor (also when the technician stops)
     Reason: The technician stops.
     Required: Hand it over.
     [ ] Voice note: the reason, spoken
     [ ] Name of: supervisor, technician
"""


def test_the_recess_of_a_mesh_is_shown():
    text = changed(
        'kind = "gap", unit = "mm", at-least = 0.0, at-most = 0.2 }',
        'kind = "mesh", unit = "mm", at-most = 0.2, recess = 0.3 }',
    )
    shown = " ".join(describe(read(text)).split())
    assert "recess 0.3 mm give or take 0.05" in shown
