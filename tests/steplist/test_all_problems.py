"""All problems of one round are told at once, in the order of the file."""

from __future__ import annotations

from tests.steplist.cases import only_problem, problems_of
from tests.steplist.valid import VALID, changed, line_of, read


def test_the_valid_list_is_read():
    assert read(VALID).id == "lamp-lens"


def test_every_problem_of_the_form_is_told():
    text = changed('title = "Press"', "title = 5")
    text = changed("scan = true", "scan = 1", text)
    text = changed("at-most-s = 60", "at-most = 60", text)
    keys = [str(problem.where).rsplit("key ", 1)[1] for problem in problems_of(text)]
    assert keys == ["scan", "title", "hold.at-most"]


def test_every_breach_of_the_rules_is_told():
    text = changed("at-most-s = 60", "at-most-s = 6")
    text = changed('stop-by-technician = "left-to-supervisor"', 'stop-by-technician = "x"', text)
    text = changed('then-stop = "seat-dirty"', 'then-stop = "y"', text)
    assert [str(problem.what) for problem in problems_of(text)] == [
        'there is no stop rule "x"',
        'there is no stop rule "y"',
        "at-most-s 6 is below at-least-s 10",
        'nothing leads to the stop rule "left-to-supervisor"',
    ]


def test_sentence_has_a_line_for_each_problem():
    text = changed('title = "Press"', "title = 5")
    text = changed("scan = true", "scan = 1", text)
    assert [problem.sentence() for problem in problems_of(text)] == [
        f'lamp.toml, line {line_of("scan = 1", text)}, [[steps]] "identify", [[readings]] '
        '"serial", key scan: expected true or false, found the whole number 1. '
        "Write it as scan = true.",
        f'lamp.toml, line {line_of("title = 5", text)}, [[steps]] "press", key title: expected '
        "plain text that is not blank, found the whole number 5. "
        'Write it as title = "…".',
    ]


def test_each_variant_tells_its_first_step_after_an_always_stopping_one():
    text = changed(
        'clear = { go-on = true }\nnot-clear = { stop = "seat-dirty" }',
        'clear = { stop = "seat-dirty" }\nnot-clear = { stop = "seat-dirty" }',
    )
    assert [str(problem.what).partition(":")[0] for problem in problems_of(text)] == [
        'the step "extend" of the variant "long" is never reached',
        'the step "press" of the variant "short" is never reached',
    ]


def test_step_of_a_variant_in_a_list_without_variants_is_refused():
    start, end = VALID.index("[[device.variants]]"), VALID.index("[[cautions]]")
    problem = only_problem(VALID[:start] + VALID[end:])
    assert "This list has no variant at all" in problem.sentence()


def test_variant_without_a_step_is_refused():
    text = VALID
    for step in ("identify", "look", "press"):
        text = changed(f'id = "{step}"\n', f'id = "{step}"\nvariants = ["long"]\n', text)
    problem = only_problem(text)
    assert 'the variant "short" has no step' in problem.sentence()
    line = line_of('id = "short"', text) - 1
    assert str(problem.where) == f'lamp.toml, line {line}, [[device.variants]] "short"'
