"""How the work goes: what counts, the figures, and how they are shown."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import zipfile
from contextlib import closing
from itertools import pairwise

import cv2
import duckdb
import numpy as np
import pytest

from evidence_app.desk.stopped.picture import draw
from evidence_app.desk.work.figures import (
    Work,
    as_csv,
    lines_of,
    observations_as_parquet,
    quartiles,
    tables,
)
from evidence_app.desk.work.picture import save_bars, save_times


def rows_of(work: Work, title: str) -> tuple[tuple[str, ...], ...]:
    return next(table.rows for table in tables(work) if table.title == title)


def test_the_time_at_a_step_is_that_between_the_entries_of_its_journal(both, stopped):
    with zipfile.ZipFile(stopped) as package:
        name = next(name for name in package.namelist() if name.endswith("journal.jsonl"))
        events = [json.loads(line)["event"] for line in package.read(name).splitlines()]
    spent: dict[str, float] = {}
    for before, after in pairwise(events):
        if before["step"]:
            took = (after["mono_us"] - before["mono_us"]) / 1e6
            spent[before["step"]] = spent.get(before["step"], 0.0) + took
    found = {row["step"]: float(row["value"]) for row in read_back(Work(both)) if row["kind"] == "time"}
    assert spent and found == pytest.approx(spent, abs=0.001)


def test_photos_kept_with_a_reason_and_the_checks_that_did_not_hold_are_counted(both):
    (floor, rim) = rows_of(Work(both), "Photos taken again")
    assert floor[:5] == ("inspect-slot", "slot-floor", "0 of 2", "2", "2") and "card 2" in floor[5]
    assert rim[1] == "slot-rim" and "card" not in rim[5]


def test_findings_stand_by_technician(both):
    assert rows_of(Work(both), "Findings by technician") == (("M. Okafor-Lind", "clear 1, not clear 1"),)


def test_names_can_be_numbers(both):
    hidden = Work(both, hide_names=True)
    assert b"Okafor" not in as_csv(hidden) and b"technician 001" in as_csv(hidden)


def test_jobs_that_an_older_version_entered_are_told_and_not_taken_for_none(both):
    with closing(sqlite3.connect(both.path)) as database:
        database.execute("PRAGMA journal_mode = delete")
        database.execute("DROP TABLE observations")
        database.execute("PRAGMA user_version = 4")
    said = list(lines_of(Work(both)))
    assert said[:2] == [
        "2 jobs are counted.",
        "Of 2 of them an older version kept nothing to be shown here.",
    ]


def test_quartiles_are_those_of_a_reference_library():
    values = [95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065]
    assert quartiles(values) == pytest.approx(np.quantile(values, (0.25, 0.5, 0.75), method="weibull"))


@pytest.mark.parametrize(("latest", "looked_at"), [(1.0003, ()), (1.0008, (0,))])
def test_a_card_that_changed_by_more_than_its_uncertainty_is_told(both, latest, looked_at):
    # JCGM 100:2008: U = 2 sqrt(0.0002² + 0.0002²) = 0.00057 for the difference of the two.
    with closing(sqlite3.connect(both.path)) as database, database:
        for value in (1.0, latest):
            row = (1, "card", "K-7", value, 0.0002)
            database.execute(
                "INSERT INTO observations (package, kind, name, value, u) VALUES (?, ?, ?, ?, ?)", row
            )
    cards = next(table for table in tables(Work(both)) if table.title == "Scale cards")
    assert cards.look == looked_at and cards.rows[0][-1] == "0.00057"


def with_bars(register, bars: list[tuple[int, float]]):
    """A register that holds readings (package, mm) of check bars."""
    with closing(sqlite3.connect(register.path)) as database, database:
        for package, mm in bars:
            row = (package, "bar", "K-7", "check_bar_mm", mm, 0.005)
            database.execute(
                "INSERT INTO observations (package, kind, name, result, value, u) VALUES (?, ?, ?, ?, ?, ?)",
                row,
            )
    return Work(register)


def test_a_job_s_check_bars_are_one_point_of_its_card_and_tablet(both):
    work = with_bars(both, [(1, 50.002), (1, 50.004), (2, 49.999)])
    charts = list(work.bars().values())
    assert sorted(sum(chart.photos) for chart in charts) == [1, 2]  # each package has its own tablet
    assert sorted(chart.points[0] for chart in charts) == pytest.approx([49.999, 50.003])


def test_the_drift_chart_can_be_looked_at(both, tmp_path):
    work = with_bars(both, [(1, 50.002), (2, 49.999)])
    draw(tmp_path / "bars.png", lambda file, kind: save_bars(work, file, kind))
    assert cv2.imread(str(tmp_path / "bars.png")).std() > 5


def read_back(work: Work) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(work).decode("utf-8-sig"))))


def test_every_observation_is_a_line_for_a_spreadsheet(both):
    read = read_back(Work(both))
    assert len(read) > 10
    assert {row["kind"] for row in read} == {"time", "photo", "check", "measurement", "finding"}


def test_every_observation_is_a_typed_row_that_another_program_reads(both, tmp_path):
    work = Work(both)
    (tmp_path / "work.parquet").write_bytes(observations_as_parquet(work))
    read = duckdb.read_parquet(str(tmp_path / "work.parquet"))
    types = dict(zip(read.columns, map(str, read.types), strict=True))
    named = ("package", "step", "value", "closed_utc")
    assert [types[name] for name in named] == ["BIGINT", "VARCHAR", "DOUBLE", "TIMESTAMP WITH TIME ZONE"]
    medians = duckdb.sql(
        "SELECT step, median(value) FROM read WHERE kind = 'time' GROUP BY step"
    ).fetchall()
    assert dict(medians) == pytest.approx(
        {step: quartiles(times)[1] for (_, step), times in work.times().items()}
    )
    assert len(read.fetchall()) == len(read_back(work))


def test_the_picture_of_the_times_can_be_looked_at(both, tmp_path):
    work = Work(both)
    draw(tmp_path / "times.png", lambda file, kind: save_times(work, file, kind))
    assert cv2.imread(str(tmp_path / "times.png")).std() > 5
