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
from evidence_app.desk.export import as_parquet, table
from evidence_app.desk.register import Register
from evidence_app.desk.stopped.counts import counted, hidden
from evidence_app.desk.wanted import Wanted
from evidence_app.desk.work.drift import Drift, drift
from evidence_app.desk.work.observations import BAR, CARD, CHECK, FINDING, KEPT, PASSES, PHOTO, TIME
from evidence_app.language import mark, say, say_many
from evidence_app.photo.gate.check import CHECK_NAMES
from evidence_app.steplist.model import FINDINGS

NO_JUDGEMENT = mark(
    "Shows how the work went, not who works well: times depend on the units, findings on what came to "
    "whom, and a few jobs say nothing about the next ones."
)
_OF = "FROM observations o JOIN packages p ON p.id = o.package WHERE o.package IN (SELECT value FROM json_each(?))"
_ALL = f"""SELECT p.id, p.claim, p.technician, p.device_key_sha256, p.step_list,
  p.closed_utc, o.kind, step, o.name, result, value, u {_OF} ORDER BY p.closed_utc, o.id"""
_TIMES = f"SELECT step_list, step, value {_OF} AND o.kind = '{TIME}' ORDER BY p.id, o.id"
# Takes are numbered, so that the first of a job is known.
_TAKES = f"""SELECT step, name, sum(take = 1 AND result = '{PASSES}'), sum(take = 1), count(*),
  sum(result = '{KEPT}') FROM (SELECT o.id, step, o.name, result, row_number() OVER
    (PARTITION BY o.package, step, o.name ORDER BY o.id) AS take {_OF} AND o.kind = '{PHOTO}')
 GROUP BY step, name ORDER BY min(id)"""
_CHECKS = f"""SELECT step, o.name, result, count(*) {_OF} AND o.kind = '{CHECK}'
 GROUP BY step, o.name, result ORDER BY count(*) DESC, result"""
_FINDINGS = f"""SELECT p.id, technician, result, count(*) {_OF} AND o.kind = '{FINDING}'
 GROUP BY p.id, result ORDER BY p.id"""
_CARDS = f"""SELECT o.name, device_key_sha256, value, u {_OF} AND o.kind = '{CARD}'
 ORDER BY p.closed_utc, o.id"""
# A point a job: the mean of its photos.
_BARS = f"""SELECT o.name, device_key_sha256, avg(value), max(u), count(*), p.claim {_OF}
 AND o.kind = '{BAR}' GROUP BY p.id, o.name ORDER BY p.closed_utc, p.id"""
COLUMNS = (
    "package", "claim", "technician", "tablet", "step_list", "closed_utc",
    "kind", "step", "name", "result", "value", "u",
)  # fmt: skip
# Coverage factor of an expanded uncertainty of 95 % (JCGM 100:2008, annex G).
_COVERAGE = 2.0


class Table(Struct, frozen=True):
    """Cells in the language in use; ``look`` are the places of the rows that want a look."""

    title: str
    note: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    look: tuple[int, ...] = ()


class Work:
    """What the register holds of the jobs that count; ``jobs`` is how many, ``without`` of how
    many an older version kept nothing. Every call may raise RegisterError."""

    def __init__(self, register: Register, wanted: Wanted | None = None, hide_names: bool = False) -> None:
        self._register = register
        chosen = counted(search.find(register, wanted or Wanted(), search.COUNTED))[0]
        self._packages = json.dumps([job["id"] for job in chosen])
        self._names = hidden({job["id"]: job["technician"] for job in chosen}) if hide_names else None
        self.jobs = len(chosen)
        self.without = self.jobs - self.ask(f"SELECT count(DISTINCT o.package) {_OF}")[0][0]

    def ask(self, query: str) -> list[tuple]:
        with self._register.lookup() as database:
            return database.conn.execute(query, [self._packages]).fetchall()

    def technician(self, package: int, name: str | None) -> str:
        return self._names[package] if self._names else name or "–"

    def times(self) -> dict[tuple[str, str], list[float]]:
        """Seconds by step list and step."""
        return _grouped(
            ((step_list or "–", step or "–"), spent) for step_list, step, spent in self.ask(_TIMES)
        )

    def bars(self) -> dict[tuple[str, str], Drift]:
        """The drift chart of each card on each tablet."""
        groups = _grouped(
            ((card or say("not confirmed"), tablet or ""), point)
            for card, tablet, *point in self.ask(_BARS)
        )
        return {of: drift(points) for of, points in sorted(groups.items())}


def quartiles(values: list[float]) -> list[float]:
    """Lower quartile, median and upper quartile, between the ordered values as NIST/SEMATECH
    e-Handbook 7.2.6.2 has it; of a single value itself."""
    return quantiles(values, n=4) if len(values) > 1 else values * 3


def as_csv(work: Work) -> bytes:
    """Every observation, for a spreadsheet."""
    return table([COLUMNS, *_observations(work)])


def observations_as_parquet(work: Work) -> bytes:
    """Every observation, typed. Raises as ``export.as_parquet`` does."""
    return as_parquet(COLUMNS, _observations(work))


def _observations(work: Work) -> Iterator[tuple]:
    for package, claim, name, *more in work.ask(_ALL):
        yield package, claim, work.technician(package, name), *more


def tables(work: Work) -> tuple[Table, ...]:
    return _times(work), _takes(work), _findings(work), _cards(work), _bars(work)


def lines_of(work: Work) -> Iterator[str]:
    """All of it as plain text."""
    yield from head(work)
    for each in tables(work):
        yield from ("", *lines_of_table(each))
    yield from ("", say(NO_JUDGEMENT))


def lines_of_table(table: Table) -> list[str]:
    return [table.title, *aligned((table.headings, *table.rows)), *filter(None, (table.note,))]


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
        (*names, str(len(spent)), *(f"{each:.0f} s" for each in quartiles(spent)))
        for names, spent in work.times().items()
    ]
    quarter = (say("Lower quartile"), say("Median"), say("Upper quartile"))
    return Table(
        say("Time at each step"),
        say("Half of the jobs took between the two quartiles. Absences and restarts do not count."),
        (say("Step list"), say("Step"), say("Jobs"), *quarter),
        tuple(rows),
    )


def _takes(work: Work) -> Table:
    failed = _grouped(
        ((step, photo), f"{say(CHECK_NAMES.get(name, name))} {count}")
        for step, photo, name, count in work.ask(_CHECKS)
    )
    return Table(
        say("Photos taken again"),
        say("Which check did not hold, and in how many takes."),
        (say("Step"), say("Photo"), say("Passed at once"), say("Takes"), say("Kept with a reason"), say("Checks")),
        tuple(
            (step, photo, say("{part} of {all}", part=at_once, all=jobs), str(takes), str(kept),
             ", ".join(failed.get((step, photo), "–")))
            for step, photo, at_once, jobs, takes, kept in work.ask(_TAKES)
        ),
    )  # fmt: skip


def _findings(work: Work) -> Table:
    given: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for package, name, finding, count in work.ask(_FINDINGS):
        given[work.technician(package, name)][say(FINDINGS.get(finding, "–"))] += count
    return Table(
        say("Findings by technician"),
        say("A finding is of the unit, not of the person."),
        (say("Technician"), say("Findings")),
        tuple(
            (name, ", ".join(f"{finding} {count}" for finding, count in counts.most_common()))
            for name, counts in sorted(given.items())
        ),
    )


def _cards(work: Work) -> Table:
    """By card and tablet, with the expanded uncertainty of the change."""
    rows: list[tuple[str, ...]] = []
    look: list[int] = []
    for (card, tablet), times in sorted(
        _grouped(((c, t or ""), (v, u)) for c, t, v, u in work.ask(_CARDS)).items()
    ):
        (first, first_u), (latest, latest_u) = times[0], times[-1]
        change, u = latest - first, _COVERAGE * hypot(first_u, latest_u)
        look += [len(rows)] if abs(change) > u else []
        values = (f"{first:.5f}", f"{latest:.5f}", f"{change:+.5f}", f"{u:.5f}")
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


def _bars(work: Work) -> Table:
    charts = work.bars()
    return Table(
        say("Check bars of the scale cards, read in photos"),
        say(
            "A job is the mean of its photos, in mm. A card with a job outside the control limits is looked "
            "at: bent, worn, or another card than was said; or it is the camera."
        ),
        (say("Scale card"), say("Tablet"), say("Jobs"), say("Photos"), say("Mean"), say("Lower limit"),
         say("Upper limit"), say("Latest"), say("Outside the limits")),
        tuple(
            (card, tablet[:12], str(len(d.points)), str(sum(d.photos)),
             *(f"{mm:.4f}" for mm in (d.centre, d.lower, d.upper, d.points[-1])),
             ", ".join(d.outside) or "–")
            for (card, tablet), d in charts.items()
        ),
        tuple(place for place, d in enumerate(charts.values()) if d.outside),
    )  # fmt: skip


def _grouped(pairs: Iterable[tuple[tuple[str, str], Any]]) -> dict[tuple[str, str], list[Any]]:
    groups: defaultdict[tuple[str, str], list[Any]] = defaultdict(list)
    for key, value in pairs:
        groups[key].append(value)
    return groups
