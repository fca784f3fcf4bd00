"""Putting a job's folder in order after a crash, without deleting anything.

An original is written before its event is committed, so a crash can leave files
that no event names; they are moved to ``set-aside/``. A disk that lost a rename
in a power cut can leave a named original under its temporary name; it is put in
its place.
"""

from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from msgspec import Struct

from evidence_app.record import originals as kept
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence


class Named(Struct, frozen=True):
    """An original as the first event that names it states it."""

    sha256: str
    bytes: int
    sequence: int
    media_type: str


def named_originals(events: Iterable[Event]) -> dict[str, Named]:
    """Every original that events name, by hash.

    An object with ``sha256`` and ``bytes`` anywhere in a body names one.
    """
    named: dict[str, Named] = {}
    for event in events:
        for found in _references(event.body):
            media_type = str(found.get("media_type", "application/octet-stream"))
            named.setdefault(
                found["sha256"], Named(found["sha256"], found["bytes"], event.sequence, media_type)
            )
    return named


def tidy(originals: kept.Originals, named: dict[str, Named], set_aside: Path) -> list[str]:
    """Put lost-and-found originals in place and the rest aside; returns the former's names."""
    finished = []
    for path in originals.files():
        if kept.named_hash(path) in named:
            continue
        found = _in_its_place(path, originals, named)
        if found:
            finished.append(found)
        else:
            kept.move_aside(path, set_aside)
    return finished


def missing_originals(originals: kept.Originals, named: dict[str, Named]) -> Iterator[Sentence]:
    """A sentence for each named original that is absent or of another size."""
    for original in named.values():
        path = originals.find(original.sha256)
        of: dict[str, object] = {"sequence": original.sequence, "sha256": original.sha256}
        if path is None:
            yield sentence("event {sequence}: the original {sha256} is missing", **of)
        elif (size := path.stat().st_size) != original.bytes:
            of |= {"size": size, "wanted": original.bytes}
            yield sentence(
                "event {sequence}: the original {sha256} has {size} bytes instead of {wanted}", **of
            )


def changed_originals(originals: kept.Originals, named: dict[str, Named]) -> Iterator[Sentence]:
    """:func:`missing_originals`, and a sentence for each whose content has another hash. Hashes
    on two threads."""
    yield from missing_originals(originals, named)
    present = [(original, path) for original in named.values() if (path := originals.find(original.sha256))]
    with ThreadPoolExecutor(2) as pool:
        hashes = pool.map(kept.hash_file, (path for _, path in present))
        for (original, path), found in zip(present, hashes, strict=True):
            if found != original.sha256 and path.stat().st_size == original.bytes:
                yield sentence(
                    "event {sequence}: the original {sha256} was altered; its content now has the hash {found}",
                    sequence=original.sequence,
                    sha256=original.sha256,
                    found=found,
                )


def _in_its_place(path: Path, originals: kept.Originals, named: dict[str, Named]) -> str | None:
    if not path.name.startswith(kept.INCOMING) or not path.is_file():
        return None
    original = named.get(kept.hash_file(path))
    if original is None or originals.find(original.sha256):
        return None
    media_type = original.media_type if original.media_type in kept.EXTENSIONS else None
    return originals.keep(path, original.sha256, media_type or "application/octet-stream").name


def _references(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        if kept.is_hash(value.get("sha256")) and type(value.get("bytes")) is int:
            yield value
        for item in value.values():
            yield from _references(item)
    elif isinstance(value, list):
        for item in value:
            yield from _references(item)
