"""Step lists with their pictures, and depot tickets, brought to the tablet on a removable disk."""

from collections.abc import Iterator
from contextlib import suppress
from itertools import islice
from pathlib import Path

from evidence_app import limits, locations
from evidence_app.errors import EvidenceError, RecordError, StorageFull
from evidence_app.package.durable import storage_errors, write_durably
from evidence_app.package.keys.keylist import signature_path
from evidence_app.package.keys.ticket import read_ticket
from evidence_app.reading import read_named
from evidence_app.sentence import sentence
from evidence_app.steplist.load import loads
from evidence_app.steplist.pictures import pictures_in

_WHERE = (
    "*.toml",
    *(f"{at}{kind}" for at in ("", "*/") for kind in ("step-lists/*.toml", "tickets/*.json")),
)
_MOST = 200  # files for each of these


def bring(disk: Path) -> tuple[list[str], list[EvidenceError]]:
    """Copy what is new to the tablet: the step lists at the top of ``disk`` and in folders called
    ``step-lists``, the tickets in folders called ``tickets``, of the disk or of a folder on it.

    Gives the names of the files that were taken, and why others were not. Of a step list nothing
    is kept when anything in it or its pictures is not right, or the tablet has the same version or
    a newer one under its name. Raises StorageFull.
    """
    taken, refused = [], []
    for where in _WHERE:
        for path in sorted(islice((p for p in disk.glob(where) if p.name[0] != "."), _MOST)):
            try:
                new = [*(_ticket(path) if path.suffix == ".json" else _step_list(path))]
                for place, content in new:
                    _keep(place, content)
                taken += [path.name] if new else []
            except StorageFull:
                raise
            except EvidenceError as error:
                refused.append(error)
    return taken, refused


def _step_list(path: Path) -> Iterator[tuple[Path, bytes]]:
    """What is new of it, with its place on the tablet, itself at last. Raises EvidenceError."""
    data = read_named(path, limits.STEP_LIST_BYTES)
    is_meant = path.parent.name == "step-lists" or b"[[steps]]" in data
    if path.name.endswith(".session.toml") or not is_meant:
        return  # another kind of file, which may well lie beside step lists
    brought, here = loads(data, path.name, path.parent), locations.home() / "step-lists" / path.name
    kept = here.read_bytes() if here.exists() else None
    if kept == data:
        return
    there = "-1"
    with suppress(EvidenceError):  # the tablet's own that cannot be used gives way to any, 0 too
        there = loads(kept or b"", path.name).version
    if kept is not None and [*map(int, brought.version.split("."))] <= [*map(int, there.split("."))]:
        raise EvidenceError(
            sentence("the tablet has version {there}, this is {new}", there=there, new=brought.version),
            where=str(path),
            remedy=sentence("ask the depot for a newer version"),
        )
    read = ((picture.file, content) for picture, content in pictures_in(path.parent, brought))
    yield from ((here.parent / file, content) for file, content in read if isinstance(content, bytes))
    yield here, data


def _ticket(path: Path) -> Iterator[tuple[Path, bytes]]:
    """As a step list; whether its signature holds is judged where it is chosen."""
    here = locations.home() / "tickets" / path.name
    if not here.exists():
        data = read_named(path, limits.TICKET_BYTES)
        read_ticket(data, path.name)
        yield signature_path(here), read_named(signature_path(path), limits.KEY_FILE_BYTES)
        yield here, data


def _keep(path: Path, content: bytes) -> None:
    with storage_errors(path, RecordError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_durably(path, content, error=RecordError)
