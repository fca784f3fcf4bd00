"""What the depot's key list says of this tablet's key, and which tickets fit a job."""

from contextlib import suppress
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.locations import device_key_path
from evidence_app.package.keys.handover import chain_to
from evidence_app.package.keys.keylist import GOOD, KeyList, Status, open_key_list
from evidence_app.package.keys.ticket import check_ticket, read_ticket
from evidence_app.record.clock import Clock
from evidence_app.record.times import parse
from evidence_app.sentence import sentences_beside

_KEY = sentences_beside(__file__)["key"]


class KeyListShown(Struct, frozen=True):
    """``holds``: the list is signed and this tablet's key stands in it now."""

    list_words: str
    key_words: str
    holds: bool


def key_list_shown(path: str, sha256: str | None, clock: Clock) -> KeyListShown:
    """``sha256`` names the tablet's key, None before it was made. Raises SigningKeyError
    when the list or its signature cannot be used."""
    opened, at = open_key_list(Path(path)), parse(clock.now().wall)
    list_words = say(
        "List of {depot}, issued {date}: its signature holds. {count} keys.",
        depot=opened.depot,
        date=_day(opened.issued_at),
        count=len(opened.device_keys),
    )
    words, holds = _key_words(opened, sha256, at)
    return KeyListShown(list_words, words, holds)


def _key_words(opened: KeyList, sha256: str | None, at: datetime) -> tuple[str, bool]:
    """What the list says of the key, and whether packages sealed with it now will be believed."""
    if sha256 is None:
        return say(_KEY["unknown"]), False
    standing = opened.stand(chain_to(sha256, device_key_path().parent), sha256, at)
    key = standing.key
    if key is None:
        return say(_KEY["not-listed"]), False
    if standing.status in GOOD:
        words = _KEY["listed" if key.sha256 == sha256 else "handed-over"]
    else:
        words = _KEY[standing.status]
    dates = {Status.REVOKED: key.revoked_at, Status.NOT_YET_VALID: key.valid_from}
    date = _day(dates.get(standing.status, key.valid_until))
    return say(words.template, label=key.label, date=date), standing.status in GOOD


def _day(time: datetime | None) -> str:
    return time.date().isoformat() if time else ""


# --- tickets ------------------------------------------------------------------------------


class TicketChoice(Struct, frozen=True):
    """``claim`` is the only claim it is for, None for any; with a ``problem`` it cannot be
    used, and the problem says why. ``issued``: when, empty where that is not known; ``step_list``:
    the SHA-256 of the only step list it is for, None for any."""

    path: Path
    title: str
    claim: str | None
    problem: str | None = None
    issued: str = ""
    step_list: str | None = None


def ticket_choices(folder: Path, key_list: Path | None) -> tuple[TicketChoice, ...]:
    """The tickets in ``folder``, newest first. Where there is a key list, each signature is
    tried under the depot's key."""
    keys = None
    if key_list is not None:
        with suppress(EvidenceError):
            keys = open_key_list(key_list)
    found = [_ticket(path, keys) for path in sorted(folder.glob("*.json"))]
    return tuple(sorted(found, key=lambda choice: choice.issued, reverse=True))


def _ticket(path: Path, keys: KeyList | None) -> TicketChoice:
    try:
        data = path.read_bytes()
        signature = Path(f"{path}.sig").read_bytes()
        ticket = read_ticket(data, path.name)
        if keys is not None:
            check_ticket(data, signature, keys.signer_of(ticket), path.name)
    except FileNotFoundError:
        problem = say("Its signature, the file {name}, is missing.", name=f"{path.name}.sig")
    except (OSError, EvidenceError) as error:
        problem = say(error.what if isinstance(error, EvidenceError) else (error.strerror or "").lower())
    else:
        issued = parse(ticket.issued_at)
        asked, title = ticket.asked, f"{ticket.depot}, {issued:%Y-%m-%d %H:%M}"
        if asked:
            title = say("{name} asks for more, {ticket}", name=asked.supervisor, ticket=title)
        followed = asked.step_list_sha256 if asked else None
        return TicketChoice(path, title, ticket.claim, None, issued.isoformat(), followed)
    return TicketChoice(path, path.name, None, problem)


def tickets_for(choices: tuple[TicketChoice, ...], claim: str, listed: str) -> tuple[TicketChoice, ...]:
    """Those that a job of ``claim`` by the step list with the SHA-256 ``listed`` can open: its own
    first, then those for any claim."""
    usable = [c for c in choices if c.problem is None and c.step_list in (None, listed)]
    return (*(c for c in usable if claim and c.claim == claim), *(c for c in usable if c.claim is None))


def proposed_ticket(choices: tuple[TicketChoice, ...], claim: str, listed: str) -> TicketChoice | None:
    """The ticket made for exactly this claim, first one that asks for what this list says; any
    other is the technician's choice."""
    own = [c for c in tickets_for(choices, claim, listed) if c.claim is not None]
    return next((c for c in own if c.step_list), own[0] if own else None)
