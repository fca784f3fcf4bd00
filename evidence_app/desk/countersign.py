"""A supervisor's signed word on a package, kept beside it and never inside it.

A countersign is three files: RFC 8785 JSON, its raw 64-byte Ed25519 signature
and the supervisor's public key. It names the SHA-256 of the package's seal.json,
and the seal covers everything else, so it can be held against no other package.
Each also names the one before it, so none in the middle can be taken away unseen.
Checked without this app by

    openssl pkeyutl -verify -pubin -inkey X-key.pem -rawin -in X.json -sigfile X.sig
"""

import hashlib
import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import msgspec
import rfc8785
from msgspec import Struct

from evidence_app import __version__, limits
from evidence_app.errors import EvidenceError, PackageError, SigningKeyError
from evidence_app.package.durable import storage_errors, write_durably
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.keys.signing_key import SigningKey, key_sha256, read_public_key, signature_holds
from evidence_app.package.layout import Digest, Seal
from evidence_app.package.verify.result import said
from evidence_app.prepared import prepare
from evidence_app.reading import read_named
from evidence_app.record.times import parse
from evidence_app.sentence import Sentence, joined, sentence, sentences_beside

_WORDS = sentences_beside(__file__)

FORMAT = "evidence-countersign/1"
AGREE, ASK, DISAGREE = "agree", "ask-for-more", "disagree"
DECISIONS = {AGREE: sentence("agreed"), ASK: sentence("asked for more"), DISAGREE: sentence("disagreed")}


class Countersign(Struct, frozen=True, forbid_unknown_fields=True):
    """The signed content. ``disposition`` is the one confirmed by agreeing with a stop;
    ``previous_sha256`` that of the countersign before this one, null for the first."""

    format: str
    app: str
    number: int
    seal_sha256: Digest
    job: str
    claim: str
    serial: str
    decision: str
    reason: str
    disposition: str | None
    supervisor: str
    at: str
    key_sha256: Digest
    previous_sha256: Digest | None


class CountersignFound(Struct, frozen=True):
    """A countersign beside a package. ``problems`` is empty when its signature holds, it is
    bound to this package's seal and continues the one before; ``key`` says who stands
    behind the key by the depot's list."""

    path: Path
    sha256: str
    content: Countersign | None
    problems: tuple[Sentence, ...]
    key: Sentence


def paths_of(package: Path, number: int) -> tuple[Path, Path, Path]:
    """Content, signature and public key of countersign ``number`` of a package."""
    stem = package.stem if package.suffix.lower() == ".zip" else package.name
    base = f"{stem}.countersign-{number}"
    json, signature, key = (package.with_name(base + end) for end in (".json", ".sig", "-key.pem"))
    return json, signature, key


def to_bytes(content: Countersign) -> bytes:
    """The very bytes that are signed."""
    return rfc8785.dumps(msgspec.to_builtins(content))


def sign(
    package: Path,
    *,
    seal: Seal,
    seal_sha256: str,
    decision: str,
    reason: str,
    disposition: str | None,
    supervisor: str,
    at: str,
    key: SigningKey,
) -> CountersignFound:
    """Write the next countersign beside ``package``; none that is there is replaced.

    Raises PackageError when asking or disagreeing without a reason, when a
    countersign that is there is not sound, or when the files cannot be written.
    """
    if decision not in DECISIONS:
        raise PackageError.none_of(
            DECISIONS, sentence("there is no decision “{decision}”", decision=decision)
        )
    if decision != AGREE and not reason.strip():
        raise PackageError.worded(_WORDS["no-reason"], str(package), decision=decision)
    before = read_all(package, seal_sha256)
    broken = next((found for found in before if found.problems), None)
    if broken is not None:
        raise PackageError.worded(_WORDS["unsound"], str(broken.path), problems=broken.problems[0])
    number = len(before) + 1
    content = Countersign(
        format=FORMAT,
        app=__version__,
        number=number,
        seal_sha256=seal_sha256,
        job=seal.job,
        claim=seal.claim,
        serial=seal.serial,
        decision=decision,
        reason=reason.strip(),
        disposition=disposition,
        supervisor=supervisor,
        at=at,
        key_sha256=key.sha256,
        previous_sha256=before[-1].sha256 if before else None,
    )
    data = to_bytes(content)
    json_path, signature_path, key_path = paths_of(package, number)
    # The content comes last: without it there is no countersign, whatever a power cut left.
    for path, part in ((key_path, key.public_pem), (signature_path, key.sign(data)), (json_path, data)):
        write_durably(path, part)
    return read(json_path, package, seal_sha256, before[-1].sha256 if before else None)


def read_all(package: Path, seal_sha256: str, key_list: KeyList | None = None) -> list[CountersignFound]:
    """Every countersign beside a package, in order, each checked. Raises PackageError when the
    folder cannot be read."""
    with storage_errors(package):
        stem = paths_of(package, 1)[0].name.removesuffix("1.json")
        pattern = re.compile(re.escape(stem) + r"([1-9]\d{0,5})\.json")
        names = {int(m[1]): m[0] for p in package.parent.iterdir() if (m := pattern.fullmatch(p.name))}
    found: list[CountersignFound] = []
    for expected, number in enumerate(sorted(names), start=1):
        previous = found[-1].sha256 if found else None
        each = read(package.with_name(names[number]), package, seal_sha256, previous, key_list)
        if number != expected:
            gap = sentence("countersign {number} is missing before it", number=expected)
            each = msgspec.structs.replace(each, problems=(gap, *each.problems))
        found.append(each)
    return found


def read(
    path: Path, package: Path, seal_sha256: str, previous: str | None, key_list: KeyList | None = None
) -> CountersignFound:
    """Check one countersign; what is wrong with it stands in ``problems``."""
    base = path.name.removesuffix(".json")
    data = _bytes(path)
    signature = _bytes(path.with_name(f"{base}.sig"))
    pem = _bytes(path.with_name(f"{base}-key.pem"))
    problems: list[Sentence] = []
    content = None
    try:
        content = msgspec.json.decode(data, type=Countersign)
        if to_bytes(content) != data:
            problems.append(sentence("it is not canonical JSON (RFC 8785)"))
    except (msgspec.MsgspecError, rfc8785.CanonicalizationError, UnicodeError) as error:
        problems.append(sentence("it cannot be read ({error})", error=error))
    key = sentence("whose key this is was not checked: no key list was given")
    try:
        public = read_public_key(pem, f"{base}-key.pem")
        if not signature_holds(public, signature, data):
            problems.append(sentence("its signature does not hold"))
        if content is not None:
            problems += _bound(content, seal_sha256, previous, key_sha256(public), package)
            key = _standing(content, key_list) or key
    except SigningKeyError as error:
        problems.append(joined("; ", said(error)))
    return CountersignFound(path, hashlib.sha256(data).hexdigest(), content, tuple(problems), key)


def _bound(
    content: Countersign, seal_sha256: str, previous: str | None, key: str, package: Path
) -> Iterator[Sentence]:
    """What else is wrong with a countersign that can be read."""
    if content.format != FORMAT:
        yield sentence("it has format {form}, this app knows {known}", form=content.format, known=FORMAT)
    if content.seal_sha256 != seal_sha256:
        yield sentence("it belongs to another seal than that of {name}", name=package.name)
    if content.key_sha256 != key:
        yield sentence("it names another key than the one beside it")
    if content.previous_sha256 != previous:
        yield sentence("it does not continue the countersign before it")
    if content.decision not in DECISIONS:
        yield sentence("it has an unknown decision: {decision}", decision=content.decision)


def _standing(content: Countersign, key_list: KeyList | None) -> Sentence | None:
    if key_list is None:
        return None
    try:
        at: datetime = parse(content.at)
    except ValueError:
        return sentence("its time cannot be read, so whose key this is was not checked")
    return key_list.look_up(content.key_sha256, at).sentence


def _bytes(path: Path) -> bytes:
    """A file's bytes, empty when it is missing or too large, which no check lets pass."""
    try:
        return read_named(path, limits.COUNTERSIGN_BYTES)
    except EvidenceError:
        return b""


prepare(Countersign)
