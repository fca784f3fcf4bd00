"""More is asked for after a package: a short step list, and a signed ticket that goes with it.

The list begins with a step that has the words of who asks, unchanged, and every caution of the
first list. Then come the steps that are wanted, each as it was. The ticket names the seal of the
first package and the SHA-256 of the list, so neither can be exchanged for another. A tablet
takes both from a disk as it takes others, and the list's name tells the desk what was answered.
"""

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
import tomlkit
from msgspec import structs

from evidence_app.errors import EvidenceError, SigningKeyError
from evidence_app.language import say
from evidence_app.package.durable import write_durably
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.package.keys.ticket import MoreAsked, make_ticket, read_ticket
from evidence_app.package.layout import Seal
from evidence_app.record.clock import Clock
from evidence_app.sentence import sentence
from evidence_app.steplist.load import loads
from evidence_app.steplist.model import Checkpoint, Finding, FindingRules, PhotoWanted, Rule, Step, StepList
from evidence_app.steplist.walks import photos_of

FIRST_STEP = "what-is-asked"


def list_name(seal_sha256: str) -> str:
    """The id of a step list that asks for more after the package with this seal."""
    return f"more-{seal_sha256[:32]}"


def request(
    first: StepList, seal: Seal, seal_sha256: str, wanted: Sequence[str], reason: str, number: int,
    supervisor: str, key: SigningKey, keys: KeyList | None, clock: Clock,
) -> dict[str, bytes]:  # fmt: skip
    """What a supervisor asks for after the package with ``seal``: steps of its list ``first`` by
    their ids, and why. ``number`` counts the requests after it. The files by their path on a disk.

    Raises EvidenceError for a step that the list has not, and SigningKeyError where no tablet could
    take it: without a key list, or when that does not stand behind ``key`` under the name of
    ``supervisor``.
    """
    if keys is None:
        raise SigningKeyError(
            sentence("a request names the depot, and no key list says which it is"),
            remedy=sentence("give the depot's key list"),
        )
    known = [step.id for step in first.steps]
    for step in wanted:
        if step not in known:
            raise EvidenceError.none_of(known, sentence("the step list has no step “{step}”", step=step))
    title = say("More is asked for: claim {claim}", claim=seal.claim)
    named = {"id": list_name(seal_sha256), "version": f"1.{number}", "title": title}
    asking = structs.replace(_cut(first, wanted, reason), **named)
    data = tomlkit.dumps(_plain(msgspec.to_builtins(asking))).encode()
    loads(data, asking.id)
    who = key.public.public_bytes_raw().hex()
    asked = MoreAsked(seal_sha256, hashlib.sha256(data).hexdigest(), supervisor, who)
    ticket, signature = make_ticket(key, keys.depot, seal.claim, clock, asked)
    keys.signer_of(read_ticket(ticket))
    # The ticket comes last: without it there is no request, whatever a power cut left.
    name = f"tickets/{asking.id}-{number}.json"
    return {f"step-lists/{asking.id}.toml": data, f"{name}.sig": signature, name: ticket}


def write(files: dict[str, bytes], folder: Path) -> None:
    """Raises PackageError, StorageFull."""
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        write_durably(folder / name, data)


def _cut(first: StepList, wanted: Sequence[str], reason: str) -> StepList:
    cautions = tuple(caution.id for caution in first.cautions)
    steps = [Step(FIRST_STEP, say("What is asked, and why"), reason, cautions=cautions)]
    photos: set[str] = set()
    for step in first.steps:
        if step.id in wanted:
            steps.append(_alone(step, set(wanted), photos))
            photos |= {photo.id for photo in photos_of(step)}
    reached = {first.stop_by_technician}
    for rule in (rule for step in steps if step.checkpoint for rule in _rules(step.checkpoint)):
        reached |= {rule.stop or rule.then_stop or ""}
    return structs.replace(
        first, steps=tuple(steps), tools=(), consumables=(), new_parts=(), counted=(),
        stop_rules=tuple(rule for rule in first.stop_rules if rule.id in reached),
    )  # fmt: skip


def _alone(step: Step, wanted: set[str], photos: set[str]) -> Step:
    """``step`` without what only the steps around it give: pictures, counts, measuring against
    a photo that is not asked for; work is sent back to itself where it was to another step."""
    bare = structs.replace(step, picture=None, pictures=(), counts=())
    if step.checkpoint is None:
        return bare

    def seen(photo: PhotoWanted) -> PhotoWanted:
        asked = photo.measurement
        lost = asked is not None and asked.reference is not None and asked.reference not in photos
        return structs.replace(photo, measurement=None) if lost else photo

    def back(rule: Rule) -> Rule:
        lost = rule.redo_from is not None and rule.redo_from not in wanted
        return structs.replace(rule, redo_from=step.id) if lost else rule

    checkpoint = structs.replace(
        step.checkpoint,
        photos=tuple(map(seen, step.checkpoint.photos)),
        finding=FindingRules(*map(back, _rules(step.checkpoint))),
    )
    return structs.replace(bare, checkpoint=checkpoint)


def _rules(checkpoint: Checkpoint) -> list[Rule]:
    return [checkpoint.finding.rule_for(finding) for finding in Finding]


def _plain(value: Any) -> Any:
    """Without what is not given, for which TOML has no word."""
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items() if each is not None}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value
