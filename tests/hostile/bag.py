"""A package taken apart, altered, and put together again by the strongest attacker.

That is somebody who has the device's own key and a changed app: an insider.
Manifests, chain and seal are made here from the format's description, not with
the app's own sealing, so that a mistake there is not repeated here. Record and
report are made with the app: an insider has it too.
"""

from __future__ import annotations

import copy
import hashlib
import json
import re
import zipfile
from base64 import b32encode
from collections.abc import Callable
from pathlib import Path
from typing import Any

import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from evidence_app.job.summary.summarise import summarise, to_bytes
from evidence_app.package.layout import place_originals
from evidence_app.package.report.page import render_report
from evidence_app.package.report.previews import Embedded
from evidence_app.record.event import from_line
from evidence_app.steplist.load import loads
from tests.hostile import zips

INSIDER = Ed25519PrivateKey.from_private_bytes(b"\x66" * 32)
OUTSIDER = Ed25519PrivateKey.from_private_bytes(b"\x67" * 32)

JOURNAL, RECORD, REPORT = "data/journal.jsonl", "data/record.json", "data/report.html"
STEP_LIST = "data/step-list.toml"
KEY, SEAL, SIGNATURE = "device-key.pem", "seal.json", "seal.sig"
MANIFEST, TAG_MANIFEST, INFO = "manifest-sha256.txt", "tagmanifest-sha256.txt", "bag-info.txt"
BAGIT = "bagit.txt"

_DERIVED = (JOURNAL, RECORD, REPORT)

Event = dict[str, Any]


class Bag:
    """The files of a package by their names below the top folder, in ZIP order."""

    def __init__(self, top: str, files: dict[str, bytes]) -> None:
        self.top = top
        self.files = files
        self.key = INSIDER

    @classmethod
    def read(cls, package: Path) -> Bag:
        with zipfile.ZipFile(package) as archive:
            named = {info.filename: archive.read(info) for info in archive.infolist()}
        top = next(iter(named)).split("/")[0]
        return cls(top, {name.removeprefix(f"{top}/"): data for name, data in named.items()})

    def zip(self, **quirks: Any) -> bytes:
        return zips.write(self.entries(), **quirks)

    def entries(self) -> list[zips.Entry]:
        return zips.entries_of(self.top, self.files)

    def first(self, folder: str) -> str:
        """Name of the first file in a folder such as ``data/photos/``."""
        return next(name for name in self.files if name.startswith(folder))

    def all(self, folder: str) -> list[str]:
        return [name for name in self.files if name.startswith(folder)]

    def flip(self, name: str, at: int = -40) -> Bag:
        """Alter one byte of a file."""
        data = bytearray(self.files[name])
        data[at] ^= 1
        self.files[name] = bytes(data)
        return self

    # --- the journal ---------------------------------------------------------------

    @property
    def events(self) -> list[Event]:
        return [json.loads(line)["event"] for line in self.files[JOURNAL].splitlines()]

    def rewrite(self, change: Callable[[list[Event]], list[Event] | None]) -> Bag:
        """Change the events, number and chain them anew, and remake what follows from them."""
        events = copy.deepcopy(self.events)
        events = change(events) or events
        for sequence, event in enumerate(events, start=1):
            event["sequence"] = sequence
        self.files[JOURNAL] = chained(events)
        return self.remake()

    def rechain(self, events: list[Event]) -> Bag:
        """Put other events in, numbered, chained and sealed anew; nothing that is made of them."""
        for sequence, event in enumerate(events, start=1):
            event["sequence"] = sequence
        self.files[JOURNAL] = chained(events)
        told = json.loads(self.files[SEAL])
        self.files[KEY] = public_pem(self.key)
        self.list_payload().list_tags()
        head = json.loads(self.files[JOURNAL].splitlines()[-1])["hash"]
        return self.sign(rfc8785.dumps(told | {
            "events": len(events), "journal_head": head, "closed_at": events[-1].get("wall", told["closed_at"]),
            "payload_manifest_sha256": sha(self.files[MANIFEST]),
            "tag_manifest_sha256": sha(self.files[TAG_MANIFEST]),
            "device_key_sha256": key_name(self.key),
            "fingerprint": fingerprint(head, key_name(self.key)),
        }))  # fmt: skip

    def remake(self) -> Bag:
        """Names of originals, record and report as the journal and the step list give them."""
        events = [from_line(line) for line in self.files[JOURNAL].splitlines(keepends=True)]
        originals = {sha(data): data for name, data in self.files.items()
                     if name.startswith("data/") and name not in _DERIVED}  # fmt: skip
        places = place_originals(events)
        kept = {p.path: originals[p.sha256] for p in places if p.sha256 in originals}
        rest = {name: data for name, data in self.files.items()
                if name in _DERIVED or not name.startswith("data/")}  # fmt: skip
        self.files = kept | rest
        step_list = loads(self.files[STEP_LIST], STEP_LIST)
        summary = summarise(step_list, events)
        self.files[RECORD] = to_bytes(summary)
        head = events[-1].hash
        self.files[REPORT] = render_report(
            summary, fingerprint=fingerprint(head, key_name(self.key)), head=head,
            device_key_sha256=key_name(self.key), embedded=Embedded(originals.__getitem__),
            path_in_package={p.sha256: p.path for p in places}.__getitem__,
        )  # fmt: skip
        return self

    # --- manifests and seal ------------------------------------------------------------

    def list_payload(self) -> Bag:
        """Write the manifest and the Payload-Oxum for the files that are there."""
        payload = {n: d for n, d in sorted(self.files.items()) if n.startswith("data/")}
        self.files[MANIFEST] = manifest(payload)
        oxum = f"{sum(map(len, payload.values()))}.{len(payload)}"
        info = self.files[INFO].decode()
        self.files[INFO] = re.sub(r"Payload-Oxum: .*", f"Payload-Oxum: {oxum}", info).encode()
        return self

    def list_tags(self) -> Bag:
        handovers = [name for name in self.files if re.fullmatch(r"handover-[1-9]\.(json|sig)", name)]
        listed = (INFO, BAGIT, KEY, MANIFEST, *handovers)
        self.files[TAG_MANIFEST] = manifest({n: self.files[n] for n in listed if n in self.files})
        return self

    def seal(self, **changes: Any) -> Bag:
        """Seal what stands in journal and manifests."""
        return self.sign(rfc8785.dumps(self.seal_fields() | changes))

    def seal_fields(self) -> dict[str, Any]:
        events = self.events
        opened, closed = events[0]["body"], events[-1]["body"]
        head = json.loads(self.files[JOURNAL].splitlines()[-1])["hash"]
        steps = opened["step_list"]
        old = json.loads(self.files[SEAL])
        return old | {
            "claim": opened["claim"],
            "serial": opened["device"]["serial"],
            "outcome": closed.get("outcome", "completed"),
            "practice": opened["practice"],
            "step_list": {k: steps[k] for k in ("id", "version", "sha256")},
            "opened_at": events[0]["wall"],
            "closed_at": events[-1]["wall"],
            "events": len(events),
            "journal_head": head,
            "payload_manifest_sha256": sha(self.files[MANIFEST]),
            "tag_manifest_sha256": sha(self.files[TAG_MANIFEST]),
            "device_key_sha256": key_name(self.key),
            "fingerprint": fingerprint(head, key_name(self.key)),
        }

    def sign(self, seal: bytes) -> Bag:
        self.files[SEAL] = seal
        self.files[SIGNATURE] = self.key.sign(seal)
        return self

    def own(self, **changes: Any) -> Bag:
        """List everything anew and seal it."""
        self.list_payload()
        return self.own_tags(**changes)

    def own_tags(self, **changes: Any) -> Bag:
        """The same without touching the payload's manifest and the bag-info."""
        self.files[KEY] = public_pem(self.key)
        return self.list_tags().seal(**changes)


def chained(events: list[Event]) -> bytes:
    """journal.jsonl with every hash computed anew."""
    previous = "0" * 64
    lines = []
    for event in events:
        canonical = rfc8785.dumps(event)
        previous = hashlib.sha256(previous.encode() + canonical).hexdigest()
        lines.append(b'{"event":' + canonical + b',"hash":"' + previous.encode() + b'"}\n')
    return b"".join(lines)


def manifest(files: dict[str, bytes]) -> bytes:
    return "".join(f"{sha(files[name])}  {name}\n" for name in sorted(files)).encode()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def public_pem(key: Ed25519PrivateKey) -> bytes:
    return key.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


def key_name(key: Ed25519PrivateKey) -> str:
    return sha(key.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo))


def fingerprint(head: str, key: str) -> str:
    digest = hashlib.sha256(f"evidence-app fingerprint 1\n{head}\n{key}\n".encode()).digest()
    short = b32encode(digest).decode()[:20]
    return "-".join(short[i : i + 4] for i in range(0, 20, 4))
