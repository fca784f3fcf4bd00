"""The line of every table, key and array element, in every way TOML writes them."""

from __future__ import annotations

import tomllib

import pytest

from evidence_app.locations import sample
from evidence_app.steplist.positions import Positions
from tests.steplist.valid import VALID

TRICKY = (
    r'''# a [header] in a comment
plain = 1
"quoted [key]" = "a # in text, a ] and a \" too"
'literal.key' = 'C:\new'
dotted . inner."th\u0069rd" = 1979-05-27 07:32:00
long = """
[not.a.header]
key = "not a key" \
""""
after-long = '''
    + """'''
[[not.an.array]]
''''"""
    + r'''
empty = ""
empty-long = """"""
after-empty = [ # a comment with ]
    1, "two ] , #", [
        3.5, { x = 1, y = [true,
            false] },
    ],
    1979-05-27 07:32:00,
    """
[x]
""", 'last'
]

[ table . "sub.table" ]
key = { a.b = 1, c = "}" }
[[list]]
id = "first"
[list.inner]
deep = 1
[[list.nested]]
n = 1
[[list.nested]]
n = 2
[list.nested.leaf]
z = 0
[[ list ]]
id = "second"
[[list.nested]]
n = 3
[table]
late = true
'''
)

LINES = {
    ("plain",): 2,
    ("quoted [key]",): 3,
    ("literal.key",): 4,
    ("dotted", "inner", "third"): 5,
    ("long",): 6,
    ("after-long",): 10,
    ("empty",): 13,
    ("empty-long",): 14,
    ("after-empty",): 15,
    ("after-empty", 0): 16,
    ("after-empty", 1): 16,
    ("after-empty", 2): 16,
    ("after-empty", 2, 0): 17,
    ("after-empty", 2, 1, "y"): 17,
    ("after-empty", 2, 1, "y", 0): 17,
    ("after-empty", 2, 1, "y", 1): 18,
    ("after-empty", 3): 20,
    ("after-empty", 4): 21,
    ("after-empty", 5): 23,
    ("table", "sub.table"): 26,
    ("table", "sub.table", "key", "a", "b"): 27,
    ("table", "sub.table", "key", "c"): 27,
    ("list", 0): 28,
    ("list", 0, "inner", "deep"): 31,
    ("list", 0, "nested", 0, "n"): 33,
    ("list", 0, "nested", 1): 34,
    ("list", 0, "nested", 1, "leaf", "z"): 37,
    ("list", 1): 38,
    ("list", 1, "id"): 39,
    ("list", 1, "nested", 0, "n"): 41,
    ("table", "late"): 43,
}


def paths_of(value, path=()):
    yield path, value
    inner = value.items() if isinstance(value, dict) else ()
    inner = enumerate(value) if isinstance(value, list) else inner
    for key, each in inner:
        yield from paths_of(each, (*path, key))


@pytest.mark.parametrize("path", LINES, ids=[".".join(map(str, path)) for path in LINES])
def test_line_is_found(path):
    assert Positions(TRICKY).line(path) == LINES[path]


def test_path_that_is_not_written_has_the_line_of_the_table_around_it():
    assert Positions(TRICKY).line(("list", 0, "inner", "missing", 3)) == 30


def test_line_of_the_whole_file_is_the_first():
    assert Positions("").line(()) == 1


@pytest.mark.parametrize(
    "text",
    [
        TRICKY,
        VALID,
        sample("ossmere-h7-window-rebond.toml").read_text("utf-8"),
        sample("ossmere-h7-window-rebond-cellular.toml").read_text("utf-8"),
    ],
    ids=["tricky", "valid", "window", "cellular"],
)
def test_key_and_text_of_every_path_stand_on_its_line(text):
    positions = Positions(text)
    lines = text.splitlines()
    for path, value in paths_of(tomllib.loads(text)):
        line = lines[positions.line(path) - 1]
        if path and isinstance(path[-1], str) and path[-1].isascii() and "\\u" not in line:
            assert path[-1] in line
        if isinstance(value, str) and "\n" not in value and '"""' not in line and "\\" not in line:
            assert value in line
