"""Where everything stands inside a package, and what the seal says.

All names follow from the journal alone, so that the same journal always gives
the same package and a checker can say which file each event stands for. Names
are lower-case ASCII that Windows accepts, so no two are equal ignoring case;
only the top folder keeps the case of the claim number.
"""

from __future__ import annotations

import base64
import hashlib
import re
import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import msgspec
import rfc8785
from msgspec import Meta, Struct

from evidence_app.errors import PackageError, turned
from evidence_app.package.zip.names import shown
from evidence_app.prepared import prepare
from evidence_app.sentence import sentence

if TYPE_CHECKING:
    from evidence_app.record.event import Event

SEAL_FORMAT = "evidence-seal/1"

RECORD = "data/record.json"
JOURNAL = "data/journal.jsonl"
STEP_LIST = "data/step-list.toml"
REPORT = "data/report.html"
TICKET = "data/ticket/ticket.json"
TICKET_SIGNATURE = "data/ticket/ticket.sig"
PHOTOS = "data/photos/"
MARKUP = "data/markup/"
VOICE = "data/voice/"

BAGIT = "bagit.txt"
BAG_INFO = "bag-info.txt"
DEVICE_KEY = "device-key.pem"
MANIFEST = "manifest-sha256.txt"
TAG_MANIFEST = "tagmanifest-sha256.txt"
SEAL = "seal.json"
SEAL_SIGNATURE = "seal.sig"
TIME_TOKEN = "seal.tsr"
FETCH, ROLE_JOURNAL = "fetch.txt", "journal-roles.jsonl"  # in disclosed copies only

HANDOVER = re.compile(r"handover-[1-9]\.(?:json|sig)")

# The tag manifest lists these and the handovers, in the order of their names; it cannot list
# itself, and the seal and the time token cover it instead.
LISTED_TAG_FILES = (BAG_INFO, BAGIT, DEVICE_KEY, MANIFEST)
TAG_FILES = (*LISTED_TAG_FILES, TAG_MANIFEST, SEAL, SEAL_SIGNATURE)
OPTIONAL_TAG_FILES = (TIME_TOKEN, FETCH, ROLE_JOURNAL)

# By the kind of an event: the role of each original that it names, and the key that names it.
_NAMED: dict[str, dict[str, str]] = {
    "job-opened": {"step-list": "step_list"},
    "ticket-opened": {"ticket": "ticket", "ticket-signature": "signature"},
    "photo-taken": {"photo": "photo"},
    "note-recorded": {"voice": "audio"},
    "measured": {"markup": "markup"},
}

Digest = Annotated[str, Meta(pattern=r"\A[0-9a-f]{64}\Z")]


class OriginalPlace(Struct, frozen=True):
    """One original and its place. ``sequence`` is the first event that names
    it; ``role`` is step-list, ticket, ticket-signature, photo, markup or voice."""

    path: str
    role: str
    sequence: int
    sha256: str
    bytes: int


class SealedStepList(Struct, frozen=True, forbid_unknown_fields=True):
    id: str
    version: str
    sha256: Digest


class Seal(Struct, frozen=True, forbid_unknown_fields=True):
    """The content of seal.json, as RFC 8785 canonical JSON.

    Times are RFC 3339 strings of the first and the last event. ``device_key_sha256``
    is the SHA-256 of the DER SubjectPublicKeyInfo (RFC 5280 4.1.2.7) in device-key.pem.
    """

    format: str
    app: str
    job: str
    claim: str
    serial: str
    outcome: str
    practice: bool
    step_list: SealedStepList
    opened_at: str
    closed_at: str
    events: int
    journal_head: Digest
    payload_manifest_sha256: Digest
    tag_manifest_sha256: Digest
    device_key_sha256: Digest
    fingerprint: str


class _Form(Struct, frozen=True):
    """What is asked of a seal first; the fields of another format are not known."""

    format: str


class _Ref(Struct, frozen=True):
    """What an event says of an original; other keys are the record's concern."""

    sha256: Digest
    bytes: Annotated[int, Meta(ge=0)]


def top_folder(claim: str, job: str) -> str:
    """Name of the one top folder; the ZIP file is called the same plus ``.zip``."""
    return f"evidence-{portable(claim, 40) or 'claim'}-{portable(job, 8) or 'job'}"


def portable(text: str, longest: int) -> str:
    """``text`` reduced to ASCII letters, digits, ``.``, ``_`` and single hyphens.

    Accents are dropped (Unicode NFKD), everything else becomes a hyphen. No
    leading or trailing dot or hyphen is left, which Windows would lose.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    plain = re.sub(r"[^A-Za-z0-9._]+", "-", plain)
    plain = re.sub(r"\.{2,}", ".", plain)
    return plain.strip("-.")[:longest].rstrip("-.")


def place_originals(events: Sequence[Event]) -> tuple[OriginalPlace, ...]:
    """Place of every original that the journal names, in journal order.

    An original named by several events (the same picture taken twice is the
    same bytes) has one place, that of the first. Raises PackageError naming
    the event whose body does not say which original it means.
    """
    places: dict[str, OriginalPlace] = {}
    taken: set[str] = set()
    for event in events:
        for role, ref in _refs(event):
            if ref.sha256 in places:
                continue
            path = _path(event, role, ref.sha256)
            if path in taken:
                path = _numbered(path, event.sequence)
            taken.add(path)
            places[ref.sha256] = OriginalPlace(path, role, event.sequence, ref.sha256, ref.bytes)
    return tuple(places.values())


def fingerprint(journal_head: str, device_key_sha256: str) -> str:
    """Short fingerprint of a seal, five groups of four: ``ABCD-EFGH-…``.

    The first 100 bits of a SHA-256 in Base32 (RFC 4648 section 6). It depends
    on the journal's head and the device key only, so that the report inside
    the package can show it. Both arguments are 64 lower-case hex digits.
    """
    text = f"evidence-app fingerprint 1\n{journal_head}\n{device_key_sha256}\n"
    short = base64.b32encode(hashlib.sha256(text.encode("ascii")).digest()).decode("ascii")[:20]
    return "-".join(short[at : at + 4] for at in range(0, 20, 4))


def handover_names(count: int) -> list[tuple[str, str]]:
    """Statement and signature of each handover that a package carries, oldest first."""
    return [(f"handover-{number}.json", f"handover-{number}.sig") for number in range(1, count + 1)]


def seal_bytes(seal: Seal) -> bytes:
    """The seal as RFC 8785 canonical JSON: the very bytes that are signed."""
    return rfc8785.dumps(msgspec.to_builtins(seal))


def read_seal(data: bytes) -> Seal:
    """The seal in ``data``. Raises PackageError unless it is of this format and canonical.

    Comparing with the canonical form refuses doubled keys, numbers written in
    another way and anything after the object, which a lenient reader hides.
    """
    try:
        form = msgspec.json.decode(data, type=_Form).format
        if form != SEAL_FORMAT:
            forms = {"form": shown(form), "known": SEAL_FORMAT}
            what = sentence("the seal has the format {form}, this app knows {known}", **forms)
            remedy = sentence("check it with the version of the app that made it, or a newer one")
            raise PackageError(what, where=SEAL, remedy=remedy)
        seal = msgspec.json.decode(data, type=Seal)
        canonical = seal_bytes(seal)
    except (
        msgspec.MsgspecError, rfc8785.CanonicalizationError, UnicodeError, RecursionError,
    ) as error:  # fmt: skip
        raise PackageError(sentence("the seal cannot be read: {error}", error=error), where=SEAL) from error
    if canonical != data:
        raise PackageError(sentence("the seal is not canonical JSON (RFC 8785)"), where=SEAL)
    return seal


def _refs(event: Event) -> list[tuple[str, _Ref]]:
    """The originals that one event names, with their role. Not every measurement has a drawing."""
    named = _NAMED.get(event.kind, {}).items()
    return [(role, _ref(event, key)) for role, key in named
            if role != "markup" or event.body.get(key) is not None]  # fmt: skip


def _ref(event: Event, key: str) -> _Ref:
    what = sentence("{key!r} of this {kind} does not name an original: {error}", key=key, kind=event.kind)
    with turned(
        msgspec.ValidationError, PackageError, what, sentence("event {number}", number=event.sequence)
    ):
        return msgspec.convert(event.body.get(key), _Ref)


def _path(event: Event, role: str, sha256: str) -> str:
    named = f"{event.sequence:04d}-{portable(event.step or 'job', 64).lower()}-{sha256[:8]}"
    return {
        "step-list": STEP_LIST,
        "ticket": TICKET,
        "ticket-signature": TICKET_SIGNATURE,
        "photo": f"{PHOTOS}{named}.jpg",
        "markup": f"{MARKUP}{named}.png",
        "voice": f"{VOICE}{named}.flac",
    }[role]


def _numbered(path: str, sequence: int) -> str:
    """A second ticket stands beside the first under its event's number."""
    stem, _, ending = path.rpartition(".")
    return f"{stem}-{sequence:04d}.{ending}"


prepare(Seal, _Form, _Ref)
