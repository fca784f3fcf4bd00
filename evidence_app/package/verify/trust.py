"""The checks of trust: seal, key, time-bracket.

Each says exactly what it proves. A seal that holds shows that nothing changed
since somebody with that key sealed it; only a key list says whose key it is;
only a ticket and a time token bound the time from outside the tablet.
"""

import hashlib
from collections.abc import Iterator
from datetime import datetime, timedelta

import msgspec

from evidence_app import limits
from evidence_app.errors import EvidenceError
from evidence_app.package import layout
from evidence_app.package.keys.handover import Handover, check_chain
from evidence_app.package.keys.keylist import GOOD, Status, is_among
from evidence_app.package.keys.signing_key import key_sha256, read_public_key, signature_holds
from evidence_app.package.keys.ticket import Ticket, check_ticket, read_ticket
from evidence_app.package.keys.timestamp import TokenTime, check_token, read_token
from evidence_app.package.verify import result
from evidence_app.package.verify.case import Case, Defective, Unavailable
from evidence_app.package.verify.clocks import CLOCKS_APART
from evidence_app.package.zip.names import shown
from evidence_app.record import times
from evidence_app.record.event import Event
from evidence_app.sentence import NOTHING, Sentence, joined, sentence

_SIGNATURE_BYTES = 64


_CODES = {Status.REVOKED: result.REVOKED_BEFORE, Status.UNKNOWN: result.KEY_UNKNOWN}


def check_seal(case: Case) -> result.CheckResult:
    """Does the signature hold over the very bytes of seal.json, and does it say what is true?"""
    wanted = (layout.SEAL, layout.SEAL_SIGNATURE, layout.DEVICE_KEY)
    missing = [sentence("{file}: is missing", file=name) for name in wanted if not case.has(name)]
    if missing:
        return result.fails("seal", "the package is not sealed", missing)
    try:
        seal, key = _signed_seal(case)
    except EvidenceError as error:
        return result.fails("seal", "the seal does not hold", result.said(error))
    told = _told_by_files(case, seal, key)
    try:
        told |= _told_by_journal(case.events)
        what = sentence("the signature holds; key, manifests and journal are those that it names")
    except (Defective, Unavailable):
        what = sentence(
            "the signature holds; key and manifests are those that it names, the journal cannot "
            "be read to compare it"
        )
    fields = msgspec.structs.asdict(seal) | {"top folder": layout.top_folder(seal.claim, seal.job)}
    problems = [
        sentence(
            "{file}: {name} is {stated}, but the package gives {told}",
            file=layout.SEAL,
            name=name,
            stated=_brief(stated),
            told=_brief(told[name]),
        )
        for name, stated in fields.items()
        if name in told and told[name] != stated
    ]
    if problems:
        return result.fails("seal", "the seal belongs to another content", problems)
    return result.holds(
        "seal", "{what}; fingerprint {fingerprint}", what=what, fingerprint=seal.fingerprint
    )


def check_key(case: Case) -> result.CheckResult:
    """Does the depot's key list know the key, and was it valid when the job was closed?"""
    keys, seal = case.asked.key_list, case.read_seal()
    try:
        chain = _handovers(case, seal.device_key_sha256)
    except EvidenceError as error:
        wrong = "the handovers that lead to the key that sealed this do not hold"
        return result.fails("key", wrong, result.said(error), result.HANDED_OVER_WRONGLY)
    if keys is None:
        return result.not_checked("key", "no key list was given, so whose key sealed this is not known")
    standing = keys.stand(chain, seal.device_key_sha256, times.parse(seal.closed_at))
    known = standing.key
    told = standing.sentence
    handed = [link.told for link in chain]
    if known is None or standing.status not in GOOD:
        return result.fails("key", told, handed, _CODES.get(standing.status, ""))
    technician = _technician(case)
    if technician and 1 in case.reworded:
        handed.append(
            sentence(
                "whether its technician is among the key's owners cannot be checked: a role stands for the name"
            )
        )
    elif technician and not is_among(technician, known.owner):
        return result.fails("key", "{standing}; the job's technician is {technician}", handed,
                            result.OTHER_OWNER, standing=told, technician=shown(technician))  # fmt: skip
    if standing.status is Status.VALID:
        return result.holds("key", told, handed)
    seen_by, revoked = latest_time(case), known.revoked_at
    if seen_by is not None and revoked is not None and seen_by < revoked:
        return result.holds(
            "key", "{standing}; it is shown that the seal existed at {seen_by}, before that", handed,
            standing=told, seen_by=seen_by.isoformat(),
        )  # fmt: skip
    return result.fails(
        "key", "{standing}, and nothing from outside the tablet shows that it was sealed before that", handed,
        result.REVOKED_SINCE, standing=told,
    )  # fmt: skip


def _handovers(case: Case, sha256: str) -> tuple[Handover, ...]:
    """The chain that leads to the key ``sha256``. Raises EvidenceError when it does not hold."""
    found = sorted(filter(layout.HANDOVER.fullmatch, case.archive.sizes))
    names = layout.handover_names((len(found) + 1) // 2)
    for name in (name for pair in names for name in pair if name not in found):
        raise EvidenceError(sentence("is missing from the chain of handovers"), where=name)
    return check_chain([(case.read(told), case.read(signature)) for told, signature in names], sha256)


def _technician(case: Case) -> str | None:
    try:
        found = case.events[0].body.get("technician")
    except (Defective, Unavailable):
        return None
    return found if isinstance(found, str) else None


def check_time_bracket(case: Case) -> result.CheckResult:
    """What ticket, time token and receipt show of when the job began and when it was sealed."""
    proved: list[Sentence] = []
    left_open: list[Sentence] = []
    problems: list[Sentence] = []
    for bound in (_ticket_bound, _token_bound, _receipt_bound):
        try:
            bound(case, proved, left_open)
        except EvidenceError as error:
            problems.extend(result.said(error))
        except Defective as error:
            problems.extend(error.problems)
    if problems:
        return result.fails("time-bracket", "a proof of time does not hold", problems)
    if proved:
        return result.holds("time-bracket", joined("; ", proved), left_open)
    return result.not_checked("time-bracket", joined("; ", left_open))


def latest_time(case: Case) -> datetime | None:
    """The earliest time by which the seal is shown to have existed, from outside the tablet.

    A time token checked under the given authority, or the desk's receipt; None
    when neither is there.
    """
    bounds = [case.asked.received_at] if case.asked.received_at else []
    try:
        token = _checked_token(case)
    except EvidenceError:
        token = None
    if token is not None:
        bounds.append(token.at + (token.accuracy or timedelta(0)))
    return min(bounds, default=None)


def _signed_seal(case: Case):
    """The seal and its key, after the signature held. Raises EvidenceError."""
    data = case.read(layout.SEAL)
    seal = layout.read_seal(data)
    key = read_public_key(case.read(layout.DEVICE_KEY), layout.DEVICE_KEY)
    signature = case.read(layout.SEAL_SIGNATURE)
    if len(signature) != _SIGNATURE_BYTES or not signature_holds(key, signature, data):
        raise EvidenceError(
            sentence("this is not the signature of the tablet's key over the seal"),
            where=layout.SEAL_SIGNATURE,
        )
    return seal, key


def _told_by_files(case: Case, seal: layout.Seal, key) -> dict[str, object]:
    """The seal's fields as the files of the package give them."""
    key_name = key_sha256(key)
    told: dict[str, object] = {
        "device_key_sha256": key_name,
        "fingerprint": layout.fingerprint(seal.journal_head, key_name),
    }
    if case.archive.kind == "zip":
        told["top folder"] = case.archive.top
    for field, name in (("payload_manifest_sha256", layout.MANIFEST),
                        ("tag_manifest_sha256", layout.TAG_MANIFEST)):  # fmt: skip
        told[field] = hashlib.sha256(case.read(name)).hexdigest() if case.has(name) else "missing"
    return told


def _told_by_journal(events: tuple[Event, ...]) -> dict[str, object]:
    """The seal's fields as the journal's first and last event give them."""
    opened, closed = events[0].body, events[-1].body
    device, steps = opened.get("device"), opened.get("step_list")
    steps = steps if isinstance(steps, dict) else {}
    return {
        "job": opened.get("job"),
        "claim": opened.get("claim"),
        "serial": device.get("serial") if isinstance(device, dict) else None,
        "practice": opened.get("practice"),
        "outcome": closed.get("outcome"),
        "opened_at": events[0].wall,
        "closed_at": events[-1].wall,
        "events": len(events),
        "journal_head": events[-1].hash,
        "step_list": layout.SealedStepList(
            *(str(steps.get(field)) for field in ("id", "version", "sha256"))
        ),
    }


def _brief(value: object) -> str:
    if isinstance(value, layout.SealedStepList):
        return f"{shown(value.id)} {shown(value.version)} ({value.sha256[:16]}…)"
    return shown(str(value))


def _ticket_bound(case: Case, proved: list[Sentence], left_open: list[Sentence]) -> None:
    """Raises EvidenceError or Defective when a ticket does not hold."""
    opened = [event for event in case.events if event.kind == "ticket-opened"]
    if not opened:
        left_open.append(sentence("no ticket bounds the beginning"))
        return
    keys = case.asked.key_list
    for event in opened:
        data, signature = (_original_of(case, event, key) for key in ("ticket", "signature"))
        # Without a key list the ticket can still contradict the job that opened it.
        ticket = read_ticket(data, layout.TICKET)
        if keys is not None:
            check_ticket(data, signature, keys.signer_of(ticket, _technician(case)), layout.TICKET)
        if wrong := list(_contradictions(case, event, ticket)):
            raise Defective(*wrong)
        if keys is None:
            continue
        proved.append(
            sentence(
                "what follows event {sequence} was not recorded before {issued_at}, when {depot} issued its ticket",
                sequence=event.sequence,
                issued_at=ticket.issued_at,
                depot=shown(ticket.depot),
            )
        )
        if asked := ticket.asked:
            seal, name = asked.seal_sha256[:16], shown(asked.supervisor)
            proved.append(
                sentence(
                    "{name} asked for it after the package with the seal {seal}…", name=name, seal=seal
                )
            )
    if keys is None:
        left_open.append(sentence("there is a ticket, but no key list was given to check it with"))


def _contradictions(case: Case, event: Event, ticket: Ticket) -> Iterator[Sentence]:
    where = sentence("event {sequence} (ticket-opened)", sequence=event.sequence)
    for field in ("nonce", "issued_at", "depot"):
        if event.body.get(field) != getattr(ticket, field):
            yield sentence("{where}: {field} is not that of the ticket", where=where, field=field)
    if ticket.claim not in (None, case.events[0].body.get("claim")):
        claim = shown(str(ticket.claim))
        yield sentence("{where}: the ticket is for the claim {claim}", where=where, claim=claim)
    followed = case.digests.get(layout.STEP_LIST)
    if ticket.asked and followed != ticket.asked.step_list_sha256:
        yield sentence("{where}: the ticket asks for what another step list says", where=where)
    issued_at, wall = ticket.issued_at, event.wall
    if times.parse(issued_at) > times.parse(wall) + CLOCKS_APART:
        yield sentence(
            "{where}: is of {wall}, but its ticket was issued at {issued_at}",
            where=where,
            wall=wall,
            issued_at=issued_at,
        )
    if case.asked.key_list and ticket.depot != case.asked.key_list.depot:
        depot = shown(ticket.depot)
        yield sentence("{where}: the ticket is of {depot}, the key list is not", where=where, depot=depot)


def _original_of(case: Case, event: Event, key: str) -> bytes:
    try:
        return case.load_original(event.body[key]["sha256"])
    except (Unavailable, KeyError, TypeError) as error:
        raise Defective(
            sentence(
                "event {sequence} (ticket-opened): its {key} is missing", sequence=event.sequence, key=key
            )
        ) from error


def _token_bound(case: Case, proved: list[Sentence], left_open: list[Sentence]) -> None:
    """Raises EvidenceError or Defective when a time token does not hold."""
    if not case.has(layout.TIME_TOKEN):
        left_open.append(sentence("no time token bounds the end"))
        return
    token = _checked_token(case)
    if token is None:
        left_open.append(
            sentence("there is a time token, but no time authority was given to check it with")
        )
        return
    _refuse_before_closing(case, token.at, layout.TIME_TOKEN)
    give_or_take = (
        sentence(" (accuracy {accuracy})", accuracy=token.accuracy)
        if token.accuracy is not None
        else NOTHING
    )
    proved.append(
        sentence(
            "the seal existed at {at}{give_or_take}, by {authority}",
            at=token.at.isoformat(),
            give_or_take=give_or_take,
            authority=shown(token.authority),
        )
    )


def _receipt_bound(case: Case, proved: list[Sentence], left_open: list[Sentence]) -> None:
    """Raises Defective when the package was received before it says it was closed."""
    received = case.asked.received_at
    if received is not None:
        _refuse_before_closing(case, received, sentence("the desk's receipt"))
        proved.append(sentence("the desk received it at {received}", received=received.isoformat()))


def _checked_token(case: Case) -> TokenTime | None:
    """The time token, or None when there is none or no authority to check it with.

    Raises EvidenceError for a token that is not for this seal, even without an
    authority, and for one that the authority did not sign.
    """
    if not (case.has(layout.TIME_TOKEN) and case.has(layout.SEAL_SIGNATURE)):
        return None
    token = case.read(layout.TIME_TOKEN, limits.TOKEN_BYTES)
    signature = case.read(layout.SEAL_SIGNATURE)
    if case.asked.time_authorities is None:
        read_token(token, signature)
        return None
    return check_token(token, signature, case.asked.time_authorities)


def _refuse_before_closing(case: Case, at: datetime, where: Sentence | str) -> None:
    closed_at = case.events[-1].wall
    if at + CLOCKS_APART < times.parse(closed_at):
        raise Defective(
            sentence(
                "{where}: is of {at}, but the job was closed at {closed_at}",
                where=where,
                at=at.isoformat(),
                closed_at=closed_at,
            )
        )
