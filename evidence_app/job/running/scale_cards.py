"""The scale cards whose printed length was confirmed with a rule, and the one in use.

They are in ``cards.toml`` in the user's folder, shared by the command line and the tablet:
a table for each serial, and ``in-use`` for the serial of the card that jobs measure with.
``scale`` is true length over nominal, ``scale-u`` its standard uncertainty; the thickness is
that of the card with its backing.
"""

import os
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
import tomlkit
from msgspec import Struct

from evidence_app.errors import EvidenceError, turned
from evidence_app.locations import home
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.gap.measure import Card
from evidence_app.photo.uncertainty import rectangular
from evidence_app.prepared import prepare
from evidence_app.sentence import sentence, sentences_beside

IN_USE = "in-use"
READ_TO_MM = 0.1
_THICKNESS_U_MM = 0.05
_WORDS = sentences_beside(__file__)


class Confirmed(Struct, frozen=True, rename="kebab", forbid_unknown_fields=True):
    scale: float
    scale_u: float
    thickness_mm: float
    thickness_u_mm: float


def cards_path() -> Path:
    return home() / "cards.toml"


def confirmed_cards() -> dict[str, Confirmed]:
    """Every confirmed card, by serial. Raises EvidenceError when the list cannot be read."""
    return {serial: each for serial, each in _read().items() if isinstance(each, Confirmed)}


def serial_in_use() -> str | None:
    found = _read().get(IN_USE)
    return found if isinstance(found, str) else None


def confirmed_card(serial: str) -> Card:
    """The card of ``serial`` as measurements take it. Raises EvidenceError when unknown."""
    known = confirmed_cards().get(serial)
    if known is None:
        raise EvidenceError.worded(_WORDS["unconfirmed"], str(cards_path()), serial=serial)
    return Card(serial, known.scale, known.scale_u, known.thickness_mm, known.thickness_u_mm)


def card_in_use() -> Card | None:
    """The card that jobs measure with; None when none was confirmed. Raises EvidenceError."""
    serial = serial_in_use()
    return confirmed_card(serial) if serial else None


def use_card(serial: str | None) -> None:
    """Measure with this card from now on, with none for None. Raises EvidenceError."""
    found = _read()
    if serial is None:
        found.pop(IN_USE, None)
    else:
        confirmed_card(serial)
        found[IN_USE] = serial
    _write(found)


def confirm_card(serial: str, bar_mm: float, thickness_mm: float, read_to_mm: float = READ_TO_MM) -> Card:
    """Keep what a rule says of the printed card ``serial``, and use that card. Raises
    EvidenceError as ``card_by_rule`` and when it cannot be written."""
    if serial == IN_USE:
        raise EvidenceError.worded(_WORDS["no-serial"], sentence("card"), serial=serial)
    card = card_by_rule(serial, bar_mm, thickness_mm, read_to_mm)
    known = Confirmed(card.scale, card.scale_u, card.thickness_mm, card.thickness_u)
    _write({**_read(), serial: known, IN_USE: serial})
    return card


def card_by_rule(serial: str, bar_mm: float, thickness_mm: float, read_to_mm: float = READ_TO_MM) -> Card:
    """A printed card as a rule shows it.

    ``bar_mm`` is the length of its printed bar, known to ``read_to_mm`` either way. Raises
    EvidenceError for values that no card of ours can have.
    """
    layout = card_layout()
    off = bar_mm / layout.check_bar.length - 1
    if not abs(off) <= 5 * layout.unconfirmed.pitch_relative_limit:
        raise EvidenceError.worded(_WORDS["bar"], serial, bar=bar_mm, percent=100 * off)
    if not 0.01 <= thickness_mm <= 5 or not 0 < read_to_mm <= 1:
        raise EvidenceError.worded(_WORDS["thickness"], serial)
    nominal = layout.check_bar.length
    scale_u = rectangular(read_to_mm / nominal)
    return Card(serial, bar_mm / nominal, scale_u, thickness_mm, _THICKNESS_U_MM)


def _write(found: dict[str, Confirmed | str]) -> None:
    path = cards_path()
    part = path.with_suffix(".part")
    what = sentence("the list of cards cannot be written ({reason})")
    remedy = sentence("make room on the disk, or allow writing there")
    with turned(OSError, EvidenceError, what, str(path), remedy):
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(tomlkit.dumps(msgspec.to_builtins(found)), "utf-8")
        os.replace(part, path)


def _read() -> dict[str, Confirmed | str]:
    path = cards_path()
    what = sentence("the list of cards cannot be read ({problem})")
    remedy = sentence("correct the file, or remove it and confirm the cards again")
    wrong, found = (OSError, UnicodeDecodeError, msgspec.MsgspecError), {}
    with turned(wrong, EvidenceError, what, str(path), remedy), suppress(FileNotFoundError):
        found = msgspec.toml.decode(path.read_bytes(), type=dict[str, Any])
    return {name: _entry(name, each) for name, each in found.items()}


def _entry(name: str, value: Any) -> Confirmed | str:
    what = sentence("the entry of card {serial} is not complete ({problem})", serial=name)
    remedy = sentence("confirm that card again")
    with turned(msgspec.ValidationError, EvidenceError, what, str(cards_path()), remedy):
        return msgspec.convert(value, str) if name == IN_USE else msgspec.convert(value, Confirmed)


prepare(Confirmed)
