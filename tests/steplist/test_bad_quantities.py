"""Holds, limits, readings and measurements that make no sense are told."""

from __future__ import annotations

import pytest

from tests.steplist.cases import Case, assert_told

CASES = {
    "hold shorter at most than at least": Case(
        "at-most-s = 60",
        "at-most-s = 5",
        "at-most-s = 5",
        '[[steps]] "press"',
        "hold.at-most-s",
        "at-most-s 5 is below at-least-s 10",
    ),
    "reading's limit without unit": Case(
        'unit = "mm"\nat-least = 0.0\nat-most = 0.25',
        "at-most = 0.25",
        "at-most = 0.25",
        '[[readings]] "leaf"',
        "at-most",
        "this limit has no unit",
    ),
    "measurement's limit without unit": Case(
        'unit = "mm", at-least = 0.0, at-most = 0.2',
        "at-most = 0.2",
        "at-most = 0.2 }",
        '[[checkpoint.photos]] "seam"',
        "measurement.at-most",
        "this limit has no unit",
    ),
    "reading's limits crossed": Case(
        "at-least = 0.0\nat-most = 0.25",
        "at-least = 0.5\nat-most = 0.25",
        "at-least = 0.5",
        '[[readings]] "leaf"',
        "at-least",
        "at-least 0.5 is above at-most 0.25",
    ),
    "measurement's limits crossed": Case(
        "at-least = 0.0, at-most = 0.2",
        "at-least = 0.3, at-most = 0.2",
        "at-least = 0.3",
        '[[checkpoint.photos]] "seam"',
        "measurement.at-least",
        "at-least 0.3 is above at-most 0.2",
    ),
    "limit finer than the decimals": Case(
        "decimals = 2",
        "decimals = 1",
        "at-most = 0.25",
        '[[readings]] "leaf"',
        "at-most",
        "the limit 0.25 cannot be entered with 1 decimals",
    ),
    "text reading with unit": Case(
        "text = true",
        'text = true\nunit = "mm" # of text',
        "# of text",
        '[[readings]] "serial"',
        "unit",
        "a text reading cannot have unit",
    ),
    "text reading with limit": Case(
        "text = true",
        "text = true\nat-most = 3",
        "at-most = 3",
        '[[readings]] "serial"',
        "at-most",
        "a text reading cannot have at-most",
    ),
    "text reading with decimals": Case(
        "text = true",
        "text = true\ndecimals = 1",
        "decimals = 1",
        '[[readings]] "serial"',
        "decimals",
        "a text reading cannot have decimals",
    ),
    "gap not in mm": Case(
        'kind = "gap", unit = "mm"',
        'kind = "gap", unit = "cm"',
        'unit = "cm"',
        '[[checkpoint.photos]] "seam"',
        "measurement.unit",
        'the measurement gap is in mm, found "cm"',
    ),
    "negative limit of a gap": Case(
        'unit = "mm", at-least = 0.0',
        'unit = "mm", at-least = -0.1',
        "at-least = -0.1",
        '[[checkpoint.photos]] "seam"',
        "measurement.at-least",
        "the limit -0.1 is negative",
    ),
    "gap without limit": Case(
        ', unit = "mm", at-least = 0.0, at-most = 0.2',
        "",
        'kind = "gap"',
        '[[checkpoint.photos]] "seam"',
        "measurement",
        "the measurement gap has no limit",
    ),
    "measured photo without scale card": Case(
        '[[steps.checkpoint.photos]]\nid = "seam"\nframing = "The seam"\nscale-card = true',
        '[[steps.checkpoint.photos]] # here\nid = "seam"\nframing = "The seam"',
        "# here",
        '[[steps]] "press", [[checkpoint.photos]] "seam"',
        "",
        "a measured photo needs the scale card in view",
    ),
    "residue without reference": Case(
        'kind = "residue"\nreference = "seat-clean"',
        'kind = "residue"',
        "[steps.checkpoint.photos.measurement]",
        '[[checkpoint.photos]] "seat-after"',
        "measurement",
        "the measurement residue needs a reference",
    ),
    "reference to a photo of the same step": Case(
        'reference = "seat-clean"',
        'reference = "seam"',
        'reference = "seam"',
        '[[checkpoint.photos]] "seat-after"',
        "measurement.reference",
        'no step before "press" wants a photo "seam"',
    ),
    "reference to a photo of another variant": Case(
        'reference = "seat-clean"',
        'reference = "tube"',
        'reference = "tube"',
        '[[checkpoint.photos]] "seat-after"',
        "measurement.reference",
        'the photo "tube" is not taken in the variant "short"',
    ),
    "gap with reference": Case(
        "at-most = 0.2 }",
        'at-most = 0.2, reference = "seat-clean" }',
        'reference = "seat-clean" }',
        '[[checkpoint.photos]] "seam"',
        "measurement.reference",
        "the measurement gap has no reference",
    ),
    "measured photo of a stop rule": Case(
        'framing = "The dirt"',
        'framing = "The dirt"\nmeasurement = { kind = "residue", reference = "tube" } # here',
        "# here",
        '[[stop-rules]] "seat-dirty", [[photos]] "dirt"',
        "measurement",
        "a photo owed by a stop rule is not measured",
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_error_is_told_with_file_line_and_key(case):
    assert_told(case)
