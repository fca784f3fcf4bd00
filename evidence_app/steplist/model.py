"""The types of a step list, exactly as its TOML file spells them.

Keys in the file are written with hyphens (``not-clear``), attributes here with
underscores. Unknown keys are refused. Lengths and other quantities carry their
unit beside them; a limit without a unit is refused by the checker, which holds
every rule that the types alone cannot express.
"""

from __future__ import annotations

from enum import Enum
from typing import Annotated

from msgspec import Meta, Struct

Identifier = Annotated[
    str, Meta(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=64,
              description="lower-case words joined by hyphens")
]
Sentence = Annotated[str, Meta(min_length=1, max_length=2000)]


class _Table(Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """Settings shared by every table of the file."""


class Signal(str, Enum):
    """Signal words of ISO 3864-2 and ANSI Z535.6, gravest first."""

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"
    NOTICE = "NOTICE"


class Finding(str, Enum):
    """What a person says after looking at a checkpoint."""

    CLEAR = "clear"
    NOT_CLEAR = "not-clear"
    CANNOT_TELL = "cannot-tell"


class MeasurementKind(str, Enum):
    GAP = "gap"
    MESH = "mesh"
    RESIDUE = "residue"


class Variant(_Table):
    id: Identifier
    title: Sentence


class Device(_Table):
    """The family of devices a step list is for."""

    family: Sentence
    model: Sentence
    variants: tuple[Variant, ...] = ()


class Caution(_Table):
    id: Identifier
    signal: Signal
    hazard: Sentence
    avoid: Sentence


class Item(_Table):
    """A tool, a consumable or a part that must be new each time."""

    id: Identifier
    name: Sentence


class Measurement(_Table):
    """A measurement run on a photo, with its limits in ``unit``.

    ``at_least`` and ``at_most`` are the specification limits; the result is
    advice beside the photo and never gives the finding.
    """

    kind: MeasurementKind
    unit: str | None = None
    at_least: float | None = None
    at_most: float | None = None
    reference: str | None = None


class PhotoWanted(_Table):
    id: Identifier
    framing: Sentence
    scale_card: bool = False
    measurement: Measurement | None = None


class Rule(_Table):
    """What a finding leads to: exactly one of the three.

    ``go_on`` moves to the next step; ``redo_from`` goes back to the named step
    (at most ``redo_limit`` times, after which ``then_stop`` applies);
    ``stop`` ends the repair under the named stop rule.
    """

    go_on: bool = False
    redo_from: Identifier | None = None
    redo_limit: int | None = None
    then_stop: Identifier | None = None
    stop: Identifier | None = None


class FindingRules(_Table):
    clear: Rule | None = None
    not_clear: Rule | None = None
    cannot_tell: Rule | None = None


class Checkpoint(_Table):
    question: Sentence
    photos: tuple[PhotoWanted, ...]
    finding: FindingRules


class Hold(_Table):
    """A timed press or bond; the minimum cannot be cut short unrecorded."""

    applied: Sentence
    at_least_s: Annotated[float, Meta(gt=0)]
    at_most_s: float | None = None


class Reading(_Table):
    """A value typed, spoken or scanned. ``decimals`` is for numbers;
    ``text = true`` asks for text (a part or serial number)."""

    id: Identifier
    name: Sentence
    unit: str | None = None
    at_least: float | None = None
    at_most: float | None = None
    decimals: Annotated[int, Meta(ge=0, le=6)] = 0
    text: bool = False
    scan: bool = False


class Step(_Table):
    """One instruction. What is owed is asked in this order: hold, readings,
    photos, finding. ``variants`` limits the step to those variants."""

    id: Identifier
    title: Sentence
    instruction: Sentence
    variants: tuple[Identifier, ...] = ()
    cautions: tuple[Identifier, ...] = ()
    picture: str | None = None
    hold: Hold | None = None
    readings: tuple[Reading, ...] = ()
    checkpoint: Checkpoint | None = None


class StopRule(_Table):
    """What a stopped repair requires.

    ``disposition`` is what must be done with the device instead,
    ``prohibitions`` what must not be done any more, ``photos`` the photos of
    the reason that are owed, ``spoken_reason`` whether a voice note is owed and
    ``names`` the roles whose names are owed (for instance ``supervisor``).
    """

    id: Identifier
    reason: Sentence
    disposition: Sentence
    prohibitions: tuple[Sentence, ...] = ()
    photos: tuple[PhotoWanted, ...] = ()
    spoken_reason: bool = True
    names: tuple[Identifier, ...] = ("supervisor",)


class StepList(_Table, kw_only=True):
    """A whole file. ``format`` is the version of this layout (1).

    ``stop_by_technician`` names the stop rule used when the technician stops
    the repair at a step without a finding.
    """

    format: Annotated[int, Meta(ge=1, le=1)]
    id: Identifier
    version: Annotated[str, Meta(pattern=r"^\d+\.\d+(\.\d+)?$")]
    title: Sentence
    device: Device
    defers_to: Sentence
    stop_by_technician: Identifier
    ask_location: bool = False
    cautions: tuple[Caution, ...]
    tools: tuple[Item, ...] = ()
    consumables: tuple[Item, ...] = ()
    new_parts: tuple[Item, ...] = ()
    steps: tuple[Step, ...]
    stop_rules: tuple[StopRule, ...]
