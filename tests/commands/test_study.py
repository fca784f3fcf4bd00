"""``evidence-app measure study`` at the terminal, with good and bad tables."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from evidence_app.cli import main

HEAD = "part,operator,trial,value\n"
GOOD = HEAD + "".join(
    f"{part},{operator},{trial},{0.1 * part + 0.002 * trial + shift}\n"
    for part in (1, 2, 3)
    for operator, shift in (("A", 0.0), ("B", 0.003))
    for trial in (1, 2)
)


@pytest.fixture
def study(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def run(table: str | bytes, *options: str):
        data = table if isinstance(table, bytes) else table.encode()
        (tmp_path / "r.csv").write_bytes(data)
        return CliRunner().invoke(main, ["measure", "study", "r.csv", *options])

    return run


def test_every_source_has_its_line(study):
    done = study(GOOD, "--tolerance", "0.1")
    assert done.exit_code == 0, done.output
    assert all(
        word in done.stdout
        for word in ("repeatability", "reproducibility", "interaction", "parts", "% of tolerance")
    )


def test_pooling_is_said_and_can_be_refused(study):
    said = "pooled with the repeatability"
    assert said in study(GOOD).stdout and said not in study(GOOD, "--keep-interaction").stdout


def test_json_says_no_tolerance_where_none_was_given(study):
    shares = json.loads(study(GOOD, "--json").stdout)["shares"]
    assert {share["of_tolerance"] for share in shares} == {None}


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "line 1"),
        ("part;operator;trial;value\n1;A;1;0.1\n", "line 1"),
        (HEAD + "1,A,1,0,12\n", "line 2"),
        (HEAD + "1,A,1,0.12\n1,A,2,wide\n", "line 3"),
        (HEAD + "1,A,1,nan\n", "line 2"),
        (HEAD + "1,,1,0.12\n", "operator is missing"),
        (GOOD + "1,A,1,0.2\n", "line 14"),
        (GOOD + "1,A,3,0.2\n", "equally often"),
        (HEAD + "1,A,1,0.12\n", "too few"),
        (HEAD + '1,A,1,"0.12\n', "no CSV"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (HEAD + "".join(f"{p},{o},{t},0.1\n" for p in "12" for o in "AB" for t in "12"), "equal"),
    ],
)
def test_a_bad_table_is_refused_in_one_sentence(study, table, said):
    done = study(table)
    assert done.exit_code == 2
    assert said in done.stderr and done.stderr.count("\n") == 1


def test_a_tolerance_of_0_is_refused(study):
    assert study(GOOD, "--tolerance", "0").exit_code == 2
