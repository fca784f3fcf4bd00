"""Unknown and missing keys and values of the wrong kind are told by line and key."""

from __future__ import annotations

import pytest

from tests.steplist.cases import Case, assert_told

CASES = {
    "unknown key": Case(
        'picture = "identify.png"',
        'pictuer = "identify.png"',
        "pictuer =",
        '[[steps]] "identify"',
        "pictuer",
        'unknown key "pictuer". Perhaps "picture" is meant',
    ),
    "unknown key with underscore": Case(
        "at-most-s = 60",
        "at_most_s = 60",
        "at_most_s",
        '[[steps]] "press"',
        "hold.at_most_s",
        'Perhaps "at-most-s" is meant',
    ),
    "unknown top table": Case(
        "[device]", "[colours]\n[device]", "[colours]", "", "colours", 'unknown key "colours"'
    ),
    "missing version": Case(
        'version = "1.0"\n', "", "format = 1", "", "", 'the required key "version" is missing'
    ),
    "missing key of a table": Case(
        'hazard = "Glass could break and cut."\n',
        "",
        "[[cautions]]",
        '[[cautions]] "glass"',
        "",
        'the required key "hazard" is missing',
    ),
    "missing finding": Case(
        '[steps.checkpoint.finding]\nclear = { go-on = true }\nnot-clear = { stop = "seat-dirty" }',
        "[steps.checkpoint.finding] # here\nclear = { go-on = true }",
        "# here",
        '[[steps]] "look"',
        "checkpoint.finding",
        'the required key "not-clear" is missing',
    ),
    "number for text": Case(
        'title = "Press"',
        "title = 5",
        "title = 5",
        '[[steps]] "press"',
        "title",
        "expected plain text that is not blank, found the whole number 5",
    ),
    "date for text": Case(
        'version = "1.0"', "version = 2026-01-01", "version =", "", "version", "found a date or time"
    ),
    "blank text": Case('title = "Press"', 'title = " "', 'title = " "', '"press"', "title", "blank"),
    "overlong text": Case(
        'title = "Press"',
        f'title = "{"x" * 2001}"',
        'title = "xxx',
        '"press"',
        "title",
        "the text has 2001 characters, more than 2000",
    ),
    "control character": Case(
        'title = "Press"',
        'title = "a\\u0007b"',
        'title = "a',
        '"press"',
        "title",
        "the text holds the control character U+0007",
    ),
    "text for number": Case(
        "at-least-s = 10",
        'at-least-s = "10"',
        'at-least-s = "10"',
        '"press"',
        "hold.at-least-s",
        'expected a number greater than 0, found the text "10"',
    ),
    "true for number": Case(
        "at-least-s = 10",
        "at-least-s = true",
        "at-least-s = true",
        '"press"',
        "hold.at-least-s",
        "expected a number greater than 0, found true",
    ),
    "hold of no time": Case(
        "at-least-s = 10",
        "at-least-s = 0",
        "at-least-s = 0",
        '"press"',
        "hold.at-least-s",
        "expected a number greater than 0",
    ),
    "infinite number": Case(
        "at-most-s = 60",
        "at-most-s = inf",
        "at-most-s = inf",
        '"press"',
        "hold.at-most-s",
        "found the number inf",
    ),
    "number beyond floats": Case(
        "at-most-s = 60",
        f"at-most-s = 1{'0' * 400}",
        "at-most-s = 1000",
        '"press"',
        "hold.at-most-s",
        "found a very large number",
    ),
    "fraction for whole number": Case(
        "decimals = 2",
        "decimals = 1.5",
        "decimals = 1.5",
        '[[readings]] "leaf"',
        "decimals",
        "expected a whole number of at least 0 and of at most 6",
    ),
    "text for true": Case(
        "scan = true",
        'scan = "yes"',
        "scan =",
        '[[readings]] "serial"',
        "scan",
        'expected true or false, found the text "yes"',
    ),
    "unknown signal word": Case(
        'signal = "WARNING"',
        'signal = "ALERT"',
        'signal = "ALERT"',
        '[[cautions]] "glass"',
        "signal",
        'expected one of "DANGER", "WARNING", "CAUTION", "NOTICE"',
    ),
    "unhashable signal word": Case(
        'signal = "WARNING"',
        "signal = []",
        "signal = []",
        '[[cautions]] "glass"',
        "signal",
        "found an array",
    ),
    "unknown measurement": Case(
        'kind = "residue"',
        'kind = "colour"',
        'kind = "colour"',
        '[[checkpoint.photos]] "seat-after"',
        "measurement.kind",
        'expected one of "gap", "mesh", "residue"',
    ),
    "id with spaces": Case(
        'id = "extend"',
        'id = "Extend it"',
        'id = "Extend it"',
        '[[steps]] "Extend it"',
        "id",
        "expected lower-case words and digits joined by hyphens",
    ),
    "id with a line break": Case(
        'id = "lamp-lens"', 'id = "lamp-lens\\n"', 'id = "lamp-lens', "", "id", "expected lower-case words"
    ),
    "unit with a line break": Case(
        'unit = "mm"\nat-least',
        'unit = "mm\\n"\nat-least',
        'unit = "mm\\n"',
        '[[readings]] "leaf"',
        "unit",
        "expected a unit",
    ),
    "version in words": Case(
        'version = "1.0"',
        'version = "first"',
        "version =",
        "",
        "version",
        "expected numbers joined by full stops",
    ),
    "later format": Case(
        "format = 1", "format = 2", "format = 2", "", "format", "expected 1, found the whole number 2"
    ),
    "table for array": Case(
        '[[tools]]\nid = "gauge"\nname = "Feeler gauge"',
        '[tools]\nid = "gauge"\nname = "Feeler gauge"',
        "[tools]",
        "",
        "tools",
        "expected an array, found a table",
    ),
    "text for table": Case(
        "clear = { go-on = true }\nnot-clear = { stop",
        'clear = "go on"\nnot-clear = { stop',
        'clear = "go on"',
        '[[steps]] "look"',
        "checkpoint.finding.clear",
        'expected a table, found the text "go on"',
    ),
    "number in an array of text": Case(
        'cautions = ["glass"]',
        'cautions = [\n"glass",\n7]',
        "7]",
        '[[steps]] "look"',
        "cautions (number 2)",
        "found the whole number 7",
    ),
    "checkpoint without photos": Case(
        '[[steps.checkpoint.photos]]\nid = "tube"\nframing = "The tube"\n',
        "photos = [] # none\n",
        "photos = [] # none",
        '[[steps]] "extend"',
        "checkpoint.photos",
        "expected at least 1 here, found none",
    ),
    "redo limit of none": Case(
        "redo-limit = 2",
        "redo-limit = 0",
        "redo-limit = 0",
        '[[steps]] "look"',
        "checkpoint.finding.cannot-tell.redo-limit",
        "expected a whole number of at least 1",
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_error_is_told_with_file_line_and_key(case):
    assert_told(case)
