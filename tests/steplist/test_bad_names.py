"""Repeated ids and names that lead nowhere are told by line and key."""

from __future__ import annotations

import pytest

from tests.steplist.cases import Case, assert_told

CASES = {
    "variant id twice": Case(
        "[[cautions]]",
        '[[device.variants]]\nid = "short" # again\ntitle = "x"\n[[cautions]]',
        "# again",
        '[[device.variants]] "short"',
        "id",
        'the id "short" is already used by an earlier variant',
    ),
    "caution id twice": Case(
        "[[tools]]",
        '[[cautions]]\nid = "glass" # again\nsignal = "NOTICE"\nhazard = "x"\navoid = "x"\n[[tools]]',
        "# again",
        '[[cautions]] "glass"',
        "id",
        "already used by an earlier caution",
    ),
    "tool id twice": Case(
        "[[consumables]]",
        '[[tools]]\nid = "gauge" # again\nname = "x"\n[[consumables]]',
        "# again",
        '[[tools]] "gauge"',
        "id",
        "already used by an earlier tool",
    ),
    "consumable id twice": Case(
        "[[new-parts]]",
        '[[consumables]]\nid = "wipes" # again\nname = "x"\n[[new-parts]]',
        "# again",
        '[[consumables]] "wipes"',
        "id",
        "already used by an earlier consumable",
    ),
    "new part id twice": Case(
        '[[steps]]\nid = "identify"',
        '[[new-parts]]\nid = "lens" # again\nname = "x"\n[[steps]]\nid = "identify"',
        "# again",
        '[[new-parts]] "lens"',
        "id",
        "already used by an earlier new part",
    ),
    "step id twice": Case(
        'id = "press"',
        'id = "identify" # again',
        "# again",
        '[[steps]] "identify"',
        "id",
        "already used by an earlier step",
    ),
    "stop rule id twice": Case(
        '[[stop-rules]]\nid = "left-to-supervisor"',
        '[[stop-rules]]\nid = "seat-dirty" # again\nreason = "x"\ndisposition = "x"\n'
        '[[stop-rules]]\nid = "left-to-supervisor"',
        "# again",
        '[[stop-rules]] "seat-dirty"',
        "id",
        "already used by an earlier stop rule",
    ),
    "photo id twice in two steps": Case(
        'id = "seam"',
        'id = "seat-clean" # again',
        "# again",
        '[[checkpoint.photos]] "seat-clean"',
        "id",
        "already used by an earlier photo",
    ),
    "photo id of a step in a stop rule": Case(
        'id = "dirt"',
        'id = "tube" # again',
        "# again",
        '[[stop-rules]] "seat-dirty", [[photos]] "tube"',
        "id",
        "already used by an earlier photo",
    ),
    "reading id twice": Case(
        'id = "leaf"',
        'id = "serial" # again',
        "# again",
        '[[readings]] "serial"',
        "id",
        "already used by an earlier reading",
    ),
    "unknown caution": Case(
        'cautions = ["glass"]',
        'cautions = ["glass", "heat"]',
        "cautions =",
        '[[steps]] "look"',
        "cautions (number 2)",
        'there is no caution "heat". Known: glass',
    ),
    "caution named twice": Case(
        'cautions = ["glass"]',
        'cautions = ["glass", "glass"]',
        "cautions =",
        '[[steps]] "look"',
        "cautions (number 2)",
        'the caution "glass" is named twice here',
    ),
    "unknown variant": Case(
        'variants = ["long"]',
        'variants = ["long", "wide"]',
        "variants =",
        '[[steps]] "extend"',
        "variants (number 2)",
        'there is no variant "wide". Known: long, short',
    ),
    "role named twice": Case(
        '"supervisor", "technician"',
        '"supervisor", "supervisor"',
        "names =",
        '[[stop-rules]] "left-to-supervisor"',
        "names (number 2)",
        'the role "supervisor" is named twice here',
    ),
    "unknown redo step": Case(
        'not-clear = { redo-from = "look" }',
        'not-clear = { redo-from = "peek" }',
        'redo-from = "peek"',
        '[[steps]] "press"',
        "checkpoint.finding.not-clear.redo-from",
        'there is no step "peek"',
    ),
    "unknown stop rule": Case(
        'stop = "seat-dirty" }\ncannot',
        'stop = "seat-wet" }\ncannot',
        'stop = "seat-wet"',
        '[[steps]] "look"',
        "checkpoint.finding.not-clear.stop",
        'there is no stop rule "seat-wet"',
    ),
    "unknown stop rule after redos": Case(
        'then-stop = "seat-dirty"',
        'then-stop = "seat-wet"',
        'then-stop = "seat-wet"',
        '[[steps]] "look"',
        "checkpoint.finding.cannot-tell.then-stop",
        'there is no stop rule "seat-wet"',
    ),
    "caution that no step shows": Case(
        'cautions = ["glass"]\n',
        "",
        'id = "glass"',
        '[[cautions]] "glass"',
        "id",
        'no step shows the caution "glass"',
    ),
    "stop rule that nothing reaches": Case(
        '[[stop-rules]]\nid = "left-to-supervisor"',
        '[[stop-rules]]\nid = "unused"\nreason = "x"\ndisposition = "x"\n'
        '[[stop-rules]]\nid = "left-to-supervisor"',
        'id = "unused"',
        '[[stop-rules]] "unused"',
        "id",
        'nothing leads to the stop rule "unused"',
    ),
    "picture outside the folder": Case(
        '"identify.png"',
        '"../identify.png"',
        "picture =",
        '[[steps]] "identify"',
        "picture",
        "expected a .png or .jpg in the step list's folder",
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_error_is_told_with_file_line_and_key(case):
    assert_told(case)
