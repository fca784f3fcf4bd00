"""Packages checked in a process per core, or in bulk: by Dask, on this computer or a cluster."""

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

from msgspec import Struct

from evidence_app import language
from evidence_app.commands.shared.entering import make_folder
from evidence_app.package.verify.beside import Came, verified_beside
from evidence_app.package.verify.case import Asked
from evidence_app.package.verify.result import OUTCOME_WORDS, VerifyResult, lines, to_json
from evidence_app.sentence import sentence

UNREADABLE = 2
_MOST_AT_ONCE = 8  # each takes up to 120 MB


class Judged(Struct, frozen=True):
    """A package's answer in the language of the command: check by check, in one line, and for
    programs. ``exit_status`` is 0, 1 when a check fails, 2 when it could not be read."""

    exit_status: int
    checks: str
    line: str
    fields: dict[str, Any]


def judged_at_once(packages: Sequence[Path], asked: Asked) -> Iterator[Judged]:
    """Each package's answer, in the order of ``packages``, as soon as it is there."""
    with ThreadPoolExecutor(min(len(packages), os.cpu_count() or 1, _MOST_AT_ONCE)) as pool:
        yield from map(judged_by, packages, pool.map(lambda each: verified_beside(each, asked), packages))


def judged_in_bulk(
    places: Sequence[Path | str], asked: Asked, scheduler: str | None, workers: int | None,
    results: Path | str | None, time_limit: float,
) -> Iterator[Judged]:  # fmt: skip
    """The answer for each package at ``places``: first for those whose result is there, then for
    the others as they come. Raises EvidenceError when a place or the cluster cannot be used."""
    from evidence_app.cluster.objects import list_packages
    from evidence_app.cluster.results import VERDICTS, Plan, check, verdicts_in
    from evidence_app.cluster.running import answers

    packages = list_packages(map(str, places))
    if isinstance(results, Path):
        make_folder(results := results.absolute())
    plan = Plan(asked, str(results) if results else None, time_limit)
    known = verdicts_in(plan.results) if plan.results else {}
    left = []
    for package in packages:
        if verdict := known.get(plan.name_of(package)):
            told = sentence("its result is there already: {verdict}", verdict=OUTCOME_WORDS[verdict])
            line, status = f"{package}: {language.say(told)}", VERDICTS.index(verdict)
            yield Judged(status, line, line, {"package": str(package), "exit_status": status})
        else:
            left.append(package)
    for package, came in answers(scheduler, workers, left, partial(check, plan=plan)) if left else ():
        yield judged_by(str(package), came)


def judged_by(package: Path | str, came: Came) -> Judged:
    """The answer by ``verify``'s result, or by why the package could not be read."""
    if isinstance(came, VerifyResult):
        line = f"{package}: {language.say(came.overall)}"
        return Judged(came.exit_status, "\n".join(lines(came, language.say)), line, to_json(came))
    problem = came.sentence(say=language.say)
    told = language.say(sentence("could not be read: {problem}", problem=problem))
    fields = {"package": str(package), "exit_status": UNREADABLE, "error": came.sentence()}
    return Judged(UNREADABLE, told, told, fields)
