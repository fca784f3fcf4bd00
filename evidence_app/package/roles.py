"""Names of people replaced by roles in a disclosed copy: its ``journal-roles.jsonl``.

Line by line the journal that is withheld. A line in which a person is named has ``reworded`` in
the place of ``event`` and the name's role in the event, and keeps the hash of what it was: the
chain goes on over it, and what it says now rests on whoever made the copy. Who has a list of
names can try which of them gives the hash.
"""

import re
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec

from evidence_app.errors import PackageError
from evidence_app.package import layout
from evidence_app.record.event import Event, to_line
from evidence_app.sentence import sentence

EVENT, REWORDED = b'{"event":', b'{"reworded":'
ROLE = re.compile(r"[a-z][a-z0-9-]{0,63} [1-9][0-9]{0,3}")

NAMES = {"job-opened": "technician", "name-given": "name"}
REWORDABLE = NAMES | {
    "note-written": "text", "transcript-made": "text", "transcript-corrected": "text",
    "corrected": "text", "photo-kept": "reason", "repair-stopped": "reason", "job-closed": "reason",
}  # fmt: skip
"""The one field that may be reworded, by the kind of the event; in NAMES it is a role then."""


def in_roles(lines: Sequence[bytes], events: Sequence[Event]) -> Iterator[bytes]:
    """The lines of a sound journal with roles, numbered, in the place of people's full names.

    Raises PackageError when a name stands where nothing can be reworded.
    """
    roles: dict[str, str] = {}
    for event in events:
        role = "technician" if event.kind == "job-opened" else event.body.get("role")
        if event.kind in NAMES and (name := _plain(event.body[NAMES[event.kind]])) not in roles:
            count = sum(known.startswith(f"{role} ") for known in roles.values()) + 1
            roles[name] = f"{role} {count}"
    longest_first = sorted(roles, key=len, reverse=True)
    names = "|".join(r"\s+".join(map(re.escape, name.split())) for name in longest_first)
    named = re.compile(rf"(?<!\w)(?:{names})(?!\w)", re.IGNORECASE)

    def say(value: Any) -> Any:
        return named.sub(lambda found: roles.get(_plain(found[0]), "person 1"), value)

    for line, event in zip(lines, events, strict=True):
        field = REWORDABLE.get(event.kind, "")
        body = event.body | ({field: say(event.body[field])} if event.body.get(field) else {})
        if any(named.search(text) for text in _texts(body)):
            raise PackageError(
                sentence("a person is named where nothing can be reworded"),
                where=f"{layout.JOURNAL} line {event.sequence}",
                remedy=sentence("disclose the copy with its names, or not at all"),
            )
        changed = to_line(msgspec.structs.replace(event, body=body))
        yield line if body == event.body else REWORDED + changed.removeprefix(EVENT)


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _texts(inner)
