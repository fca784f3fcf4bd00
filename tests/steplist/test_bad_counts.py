"""Counted things and counts that cannot be are told by line and key."""

from __future__ import annotations

import pytest

from tests.steplist.cases import Case, assert_told, only_problem
from tests.steplist.valid import VALID, changed, read

LOOK = 'instruction = "Look into the seat."\n'
EXTEND = 'instruction = "Pull the tube out."\n'
FIRST = '[[steps]]\nid = "identify"'


def thing(more: str = "", name: str = "screws") -> str:
    return f'[[counted]]\nid = "{name}"\nwhat = "Screws of the seat"\n{more}\n'


def counted(look: str, extend: str = "", things: str = thing()) -> str:
    """The valid list with counts at the steps look and extend (of the long lamp)."""
    text = changed(LOOK, f"{LOOK}counts = [{look}] # look\n").replace(FIRST, things + FIRST)
    return text.replace(EXTEND, f"{EXTEND}counts = [{extend}] # extend\n") if extend else text


def test_what_comes_out_and_goes_in_is_read():
    step_list = read(counted('{ thing = "screws", out = 4 }', '{ thing = "screws", in = 3 }'))
    assert [(each.goes, each.listed) for step in step_list.steps for each in step.counts] == [
        ("out", 4),
        ("in", 3),
    ]
    assert step_list.counted[0].words == "Screws of the seat"


def test_a_list_that_counts_nothing_stays_as_it_was():
    assert read(VALID).counted == ()


@pytest.mark.parametrize(
    ("look", "extend", "things", "line", "told"),
    [
        ('{ thing = "nuts", out = 1 }, { thing = "screws", out = 1 }', "", thing(), "# look",
         'no counted thing "nuts"'),
        ('{ thing = "screws", out = 1 }, { thing = "screws", in = 1 }', "", thing(), "# look",
         'counted thing "screws" is named twice'),
        ('{ thing = "screws", out = 0 }', "", thing(), "# look", "a whole number of at least 1"),
        ('{ thing = "screws", out = 1000 }', "", thing(), "# look", "of at most 999"),
        ('{ thing = "screws" }', "", thing(), "# look", "exactly one of out and in"),
        ('{ thing = "screws", out = 1, in = 1 }', "", thing(), "# look", "exactly one of out and in"),
        ('{ thing = "screws", out = 3 }', '{ thing = "screws", in = 4 }', thing(), "# extend",
         'up to here 4 of "screws" go back, but only 3'),
        ('{ thing = "screws", in = 3 }', '{ thing = "screws", out = 4 }', thing(), "# extend",
         'up to here 4 of "screws" go back, but only 3'),
        ('{ thing = "screws", out = 1 }', "", thing() + thing("# twice", "screws"), "",
         'the id "screws" is already used'),
        ('{ thing = "screws", out = 1 }', "", thing('variants = ["wide"] # thing'), "# thing",
         'no variant "wide"'),
        ('{ thing = "screws", out = 1 }', "", thing('missing = "lost" # thing'), "# thing",
         'no stop rule "lost"'),
    ],
)  # fmt: skip
def test_what_cannot_be_counted_is_told(look, extend, things, line, told):
    text = counted(look, extend, things)
    problem = only_problem(text)
    assert told in problem.sentence()
    if line:
        number = next(n for n, each in enumerate(text.splitlines(), 1) if line in each)
        assert f"line {number}" in str(problem.where)


def test_a_thing_that_no_step_of_its_variants_counts_is_told():
    text = counted('{ thing = "screws", out = 1 }', '{ thing = "rings", out = 1 }',
                   thing() + thing('variants = ["short"]', "rings"))  # fmt: skip
    assert 'no step of its variants counts "rings"' in only_problem(text).sentence()


def test_a_stop_rule_may_be_reached_by_a_missing_piece_alone():
    text = counted('{ thing = "screws", out = 1 }', things=thing('missing = "piece-gone"'))
    rule = '[[stop-rules]]\nid = "piece-gone"\nreason = "x"\ndisposition = "x"\n'
    assert read(text + rule).counted[0].missing == "piece-gone"


def test_an_unknown_key_of_a_counted_thing_is_told():
    assert_told(
        Case(
            FIRST,
            thing("many = 3 # thing") + FIRST,
            "# thing",
            '[[counted]] "screws"',
            "many",
            'unknown key "many"',
        )
    )
