"""One event of a job: its fields, its exact bytes and its place in the hash chain.

An event's bytes are the RFC 8785 canonical JSON of its eight fields. The chain
is ``hash = SHA-256(previous hash as 64 ASCII characters || canonical bytes)``,
starting from :data:`GENESIS`; so an event cannot be altered, removed from the
middle, added or moved without every later hash changing. (A chain alone does
not show that its tail was cut off; the seal's journal head does.)
"""

import hashlib
import json
import re
from collections.abc import Iterable, Sequence
from typing import Annotated, Any, TypeGuard

import msgspec
import rfc8785
from msgspec import Meta, Struct

from evidence_app import limits
from evidence_app.errors import RecordError
from evidence_app.prepared import prepare
from evidence_app.record import times
from evidence_app.sentence import Sentence, sentence

GENESIS = "0" * 64

Kind = Annotated[str, Meta(pattern=r"^[a-z]+(-[a-z]+)*\Z", max_length=64)]
Words = Annotated[str, Meta(min_length=1, max_length=200)]
Hash = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}\Z")]

LINE_START = b'{"event":'
LINE_MIDDLE = b',"hash":"'
LINE_END = b'"}\n'
TAIL_LENGTH = len(LINE_MIDDLE) + 64 + len(LINE_END)


class Instant(Struct, frozen=True):
    """One reading of both clocks.

    ``wall`` is RFC 3339 with milliseconds and offset; ``mono_us`` counts
    microseconds on a clock that nobody can set and that goes on during suspend
    where the system has one; ``boot`` names the boot that clock belongs to.
    Microseconds, since nanoseconds would pass the largest integer that RFC 8785
    allows after 104 days of uptime.
    """

    wall: str
    mono_us: int
    boot: str


class Draft(Struct, frozen=True):
    """What is to be recorded; the record adds number, times and hash."""

    kind: str
    body: dict[str, Any]
    step: str | None = None
    actor: str = "technician"


class Event(Struct, frozen=True, forbid_unknown_fields=True):
    """A recorded event; ``sequence`` counts from 1."""

    sequence: Annotated[int, Meta(ge=1, le=limits.LARGEST_INTEGER)]
    kind: Kind
    step: Words | None
    body: dict[str, Any]
    wall: str
    mono_us: Annotated[int, Meta(ge=0, le=limits.LARGEST_INTEGER)]
    boot: Words
    actor: Words
    hash: Hash

    @property
    def instant(self) -> Instant:
        return Instant(self.wall, self.mono_us, self.boot)


def seal_draft(draft: Draft, instant: Instant, sequence: int, previous_hash: str) -> Event:
    """The event that ``draft`` becomes at this place of the chain.

    Raises RecordError when the draft cannot be written as canonical JSON or
    does not have an event's form.
    """
    where = sentence("event {sequence} ({kind})", sequence=sequence, kind=draft.kind)
    fields = {
        "actor": draft.actor,
        "body": draft.body,
        "boot": instant.boot,
        "kind": draft.kind,
        "mono_us": instant.mono_us,
        "sequence": sequence,
        "step": draft.step,
        "wall": instant.wall,
    }
    refuse_unwritable(fields["body"], "body", where)
    canonical_bytes = _dumps(fields, where)
    # Reading it back gives the caller exactly what a later reader of the journal will see.
    return read_canonical(canonical_bytes, chain_hash(previous_hash, canonical_bytes), where)


def canonical(event: Event) -> bytes:
    """RFC 8785 bytes of the event's fields, without its hash."""
    fields = {name: getattr(event, name) for name in Event.__struct_fields__ if name != "hash"}
    return _dumps(fields, sentence("event {number}", number=event.sequence))


def chain_hash(previous_hash_hex: str, canonical_bytes: bytes) -> str:
    """SHA-256 over the previous hash (64 ASCII characters) followed by the event's bytes."""
    return hashlib.sha256(previous_hash_hex.encode("ascii") + canonical_bytes).hexdigest()


def to_line(event: Event) -> bytes:
    """The event as one line of journal.jsonl, ending in a newline; canonical JSON itself."""
    return join_line(canonical(event), event.hash)


def join_line(canonical_bytes: bytes, hash_hex: str) -> bytes:
    return LINE_START + canonical_bytes + LINE_MIDDLE + hash_hex.encode("ascii") + LINE_END


def from_line(line: bytes, where: str = "journal line") -> Event:
    """Read one line of journal.jsonl, its newline included.

    Accepts only the exact bytes :func:`to_line` writes: duplicate keys, NaN,
    unknown or missing keys, wrong types and any other spelling of the same JSON
    raise RecordError. The hash's form is checked here, its truth in
    :func:`verify_chain`.
    """
    framed = (
        line.startswith(LINE_START)
        and line.endswith(LINE_END)
        and (line[-TAIL_LENGTH:].startswith(LINE_MIDDLE))
    )
    if not framed:
        raise RecordError(
            sentence('this is not a journal line of the form {"event":…,"hash":"…"} with its newline'),
            where=where,
        )
    stated = line[-TAIL_LENGTH + len(LINE_MIDDLE) : -len(LINE_END)]
    return read_canonical(line[len(LINE_START) : -TAIL_LENGTH], stated.decode("ascii", "replace"), where)


def read_canonical(canonical_bytes: bytes, hash_hex: str, where: Sentence | str) -> Event:
    """The event whose canonical bytes and hash these are; RecordError when they are not one."""
    fields = _loads(canonical_bytes, where)
    if not isinstance(fields, dict) or "hash" in fields:
        raise RecordError(sentence("the event is not a JSON object of the journal's form"), where=where)
    try:
        event = msgspec.convert({**fields, "hash": hash_hex}, Event)
        times.parse(event.wall)
    except (msgspec.ValidationError, ValueError) as error:
        raise RecordError(
            sentence("the event does not have the journal's form: {error}", error=error), where=where
        ) from error
    if _dumps(fields, where) != canonical_bytes:
        raise RecordError(sentence("the event's bytes are not canonical JSON (RFC 8785)"), where=where)
    return event


def verify_chain(events: Iterable[Event]) -> list[Sentence]:
    """Every break of numbering or hashing, each naming the event; empty when the chain holds."""
    problems = []
    previous = GENESIS
    for expected, event in enumerate(events, start=1):
        if event.sequence != expected:
            problems.append(misplaced(event, expected))
        if event.hash != chain_hash(previous, canonical(event)):
            problems.append(unchained(event))
        previous = event.hash
    return problems


def misplaced(event: Event, place: int) -> Sentence:
    told = {"sequence": event.sequence, "place": place}
    return sentence("event {sequence}: stands at place {place} of the journal", **told)


def unchained(event: Event) -> Sentence:
    return sentence(
        "event {sequence} ({kind}): its hash does not follow from the event before it and its own content",
        sequence=event.sequence,
        kind=event.kind,
    )


def refuse_unwritable(value: Any, path: str, where: Sentence | str) -> None:
    """Raise RecordError naming the place in ``value`` that JSON cannot hold exactly."""
    if value is None or isinstance(value, bool):
        return
    if isinstance(value, str):
        if re.search("[\ud800-\udfff]", value):
            raise _unwritable(path, sentence("holds half of a surrogate pair"), where)
    elif isinstance(value, int):
        if abs(value) > limits.LARGEST_INTEGER:
            beyond = sentence("is an integer beyond 2^53 - 1; write it as text")
            raise _unwritable(path, beyond, where)
    elif isinstance(value, float):
        if value != value or value in (float("inf"), float("-inf")):
            raise _unwritable(path, sentence("is {value}, which JSON does not have", value=value), where)
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                raise _unwritable(path, sentence("has the key {key!r}, which is not text", key=key), where)
            refuse_unwritable(key, f"{path} key", where)
            refuse_unwritable(item, f"{path}.{key}", where)
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            refuse_unwritable(item, f"{path}[{index}]", where)
    else:
        raise _unwritable(path, sentence("is of type {kind}", kind=type(value).__name__), where)


def _unwritable(path: str, why: Sentence, where: Sentence | str) -> RecordError:
    return RecordError(
        sentence("nothing was recorded, because {path} {why}", path=path, why=why),
        where=where,
        remedy=sentence("give text, numbers, true, false, null, lists and objects only"),
    )


def _dumps(fields: dict[str, Any], where: Sentence | str) -> bytes:
    try:
        return rfc8785.dumps(fields)
    except (rfc8785.CanonicalizationError, RecursionError) as error:
        raise RecordError(
            sentence("the event cannot be written as canonical JSON: {error}", error=error), where=where
        ) from error


def _loads(data: bytes, where: Sentence | str) -> Any:
    try:
        return json.loads(
            data.decode("utf-8"),
            object_pairs_hook=_without_duplicates,
            parse_constant=_no_constant,
            parse_int=_exact_number,
        )
    except (ValueError, RecursionError) as error:
        raise RecordError(
            sentence("the event cannot be read: {error}", error=error), where=where
        ) from error


def _without_duplicates(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the key {twice!r} appears twice")
    return found


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a JSON number")


def _exact_number(digits: str) -> int | float:
    """RFC 8785 writes doubles up to 1e21 without an exponent; only small ones are integers here."""
    number = int(digits)
    return number if abs(number) <= limits.LARGEST_INTEGER else float(number)


def is_number(value: object) -> TypeGuard[float]:
    """Whether a value of an event's body is a number of JSON; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


prepare(Event)
