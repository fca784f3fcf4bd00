"""How the work goes, counted out of the register: what a depot's manager asks.

The same jobs count as where repairs stop. Nothing here judges a person or a card: a time
depends on the unit, a finding on what came to whom, and small numbers say little.
"""

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from math import hypot
from statistics import quantiles
from typing import Any

from msgspec import Struct

from evidence_app.desk import search
from evidence_app.desk.export import table
from evidence_app.desk.register import Register
from evidence_app.desk.stopped.counts import counted, hidden
from evidence_app.desk.wanted import Wanted
from evidence_app.desk.work import observations
from evidence_app.language import mark, say, say_many
from evidence_app.steplist.model import FINDINGS

NO_JUDGEMENT = mark(
    "Shows how the work went, not who works well: times depend on the units, findings on what came to "
    "whom, and a few jobs say nothing about the next ones."
)
_ROWS = """
SELECT p.id AS package, p.claim, p.technician, p.device_key_sha256 AS tablet, p.step_list, p.closed_utc,
       f.kind, f.step, f.name, f.result, f.value, f.u
  FROM observations f JOIN packages p ON p.id = f.package
 WHERE p.id IN (SELECT value FROM json_each(?)) ORDER BY p.closed_utc, f.id
"""
# Coverage factor of an expanded uncertainty of 95 % (JCGM 100:2008, annex G).
_COVERAGE = 2.0

Rows = list[dict[str, Any]]


class Table(Struct, frozen=True):
    """Cells in the language in use; ``look`` are the places of the rows that want a look."""

    title: str
    note: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    look: tuple[int, ...] = ()


class Work(Struct, frozen=True):
    """``rows`` are all observations of the ``jobs`` that count, the earliest closed first;
    ``without`` counts jobs that an older version entered, which kept no such rows."""

    jobs: int
    without: int
    rows: Rows

    def of(self, kind: str, *names: str) -> dict[tuple[str, ...], Rows]:
        """The observations of one kind by what they hold in the columns ``names``."""
        groups: defaultdict[tuple[str, ...], Rows] = defaultdict(list)
        for row in self.rows:
            if row["kind"] == kind:
                groups[tuple(row[name] or "–" for name in names)].append(row)
        return groups


def work_of(register: Register, wanted: Wanted | None = None, hide_names: bool = False) -> Work:
    """The jobs that fit. Raises RegisterError."""
    jobs, _, _ = counted(search.find(register, wanted or Wanted()))
    with register.lookup() as database:
        rows = list(database.query(_ROWS, [json.dumps([job["id"] for job in jobs])]))
    if hide_names:
        names = hidden({row["package"]: row["technician"] for row in rows})
        rows = [row | {"technician": names[row["package"]]} for row in rows]
    return Work(len(jobs), len(jobs) - len({row["package"] for row in rows}), rows)


def quartiles(values: list[float]) -> list[float]:
    """Lower quartile, median and upper quartile, between the ordered values as NIST/SEMATECH
    e-Handbook 7.2.6.2 has it; of a single value itself."""
    return quantiles(values, n=4) if len(values) > 1 else values * 3


def as_csv(work: Work) -> bytes:
    """Every observation, for a spreadsheet."""
    return table([work.rows[0] if work.rows else (), *(row.values() for row in work.rows)])


def tables(work: Work) -> tuple[Table, ...]:
    return _times(work), _takes(work), _findings(work), _cards(work)


def lines_of(work: Work) -> Iterator[str]:
    """All of it as plain text."""
    yield from head(work)
    for each in tables(work):
        yield from ("", each.title, *aligned((each.headings, *each.rows)), each.note)
    yield from ("", say(NO_JUDGEMENT))


def head(work: Work) -> Iterator[str]:
    yield say_many("{count} job is counted.", "{count} jobs are counted.", work.jobs)
    if work.without:
        yield say("Of {count} of them an older version kept nothing to be shown here.", count=work.without)


def aligned(rows: Iterable[tuple[str, ...]]) -> list[str]:
    """Rows of cells as lines, their columns under each other."""
    rows = list(rows)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(map(str.ljust, row, widths)).rstrip() for row in rows]


def _times(work: Work) -> Table:
    rows = [
        (*names, str(len(spent)), *(f"{each:.0f} s" for each in quartiles([row["value"] for row in spent])))
        for names, spent in work.of(observations.TIME, "step_list", "step").items()
    ]
    quarter = (say("Lower quartile"), say("Median"), say("Upper quartile"))
    return Table(
        say("Time at each step"),
        say("Half of the jobs took between the two quartiles. Absences and restarts do not count."),
        (say("Step list"), say("Step"), say("Jobs"), *quarter),
        tuple(rows),
    )


def _takes(work: Work) -> Table:
    failed, rows = work.of(observations.CHECK, "step", "name"), []
    for names, takes in work.of(observations.PHOTO, "step", "name").items():
        first = {row["package"]: row["result"] for row in reversed(takes)}
        at_once = sum(result == observations.PASSES for result in first.values())
        kept = sum(row["result"] == observations.KEPT for row in takes)
        checks = _counts(Counter(row["result"] for row in failed.get(names, ())))
        shares = say("{part} of {all}", part=at_once, all=len(first))
        rows.append((*names, shares, str(len(takes)), str(kept), checks))
    return Table(
        say("Photos taken again"),
        say("Which check did not hold, and in how many takes."),
        (say("Step"), say("Photo"), say("Passed at once"), say("Takes"), say("Kept with a reason"), say("Checks")),
        tuple(rows),
    )  # fmt: skip


def _findings(work: Work) -> Table:
    return Table(
        say("Findings by technician"),
        say("A finding is of the unit, not of the person."),
        (say("Technician"), say("Findings")),
        tuple(
            (*names, _counts(Counter(say(FINDINGS.get(row["result"], "–")) for row in given)))
            for names, given in sorted(work.of(observations.FINDING, "technician").items())
        ),
    )


def _cards(work: Work) -> Table:
    """By card and tablet, with the expanded uncertainty of the change."""
    rows: list[tuple[str, ...]] = []
    look: list[int] = []
    for (card, tablet), times in sorted(work.of(observations.CARD, "name", "tablet").items()):
        first, latest = times[0], times[-1]
        change, u = latest["value"] - first["value"], _COVERAGE * hypot(first["u"], latest["u"])
        look += [len(rows)] if abs(change) > u else []
        values = (f"{first['value']:.5f}", f"{latest['value']:.5f}", f"{change:+.5f}", f"{u:.5f}")
        rows.append((card, tablet[:12], str(len(times)), *values))
    return Table(
        say("Scale cards"),
        say(
            "A card that changed by more than the uncertainty U of the change is confirmed or printed anew."
        ),
        (say("Scale card"), say("Tablet"), say("Jobs"), say("First"), say("Latest"), say("Change"), "U"),
        tuple(rows),
        tuple(look),
    )


def _counts(counts: Counter[str]) -> str:
    return ", ".join(f"{name} {count}" for name, count in counts.most_common()) or "–"
