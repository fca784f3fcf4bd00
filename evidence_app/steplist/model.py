"""The types of a step list, exactly as its TOML file spells them.

Keys in the file are written with hyphens (``not-clear``), attributes here with
underscores. Unknown keys are refused. Lengths and other quantities carry their
unit beside them. What the types can say (kinds, required keys, smallest counts)
stands here and so reaches the JSON Schema; every rule that joins two values
stands in ``check``.
"""

from enum import StrEnum
from typing import Annotated, Literal

from msgspec import Meta, Struct, field

from evidence_app import limits
from evidence_app.language import mark
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.kinds import MeasurementKind

# The end of the text; a dollar sign would let Python pass over a last line break.
_END = r"(?![\s\S])"

Identifier = Annotated[
    str,
    Meta(
        pattern=r"^[a-z0-9]+(-[a-z0-9]+)*" + _END,
        max_length=64,
        description=mark("lower-case words and digits joined by hyphens"),
    ),
]
Sentence = Annotated[
    str, Meta(pattern=r"\S", max_length=2000, description=mark("plain text that is not blank"))
]
Unit = Annotated[
    str, Meta(pattern=r"^\S( ?\S)*" + _END, max_length=16, description=mark("a unit, for instance mm"))
]

_PICTURE = r"^[A-Za-z0-9][A-Za-z0-9._-]*(/[A-Za-z0-9][A-Za-z0-9._-]*)*\.(png|jpg|jpeg)" + _END
PictureFile = Annotated[
    str,
    Meta(pattern=_PICTURE, max_length=255, description=mark("a .png or .jpg in the step list's folder")),
]
Digest = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}" + _END, description=mark("64 digits 0-9 a-f"))]


class _Table(Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """Settings shared by every table of the file."""


class Signal(StrEnum):
    """Signal words of ISO 3864-2 and ANSI Z535.6, gravest first."""

    DANGER = mark("DANGER")
    WARNING = mark("WARNING")
    CAUTION = mark("CAUTION")
    NOTICE = mark("NOTICE")


class Finding(StrEnum):
    """What a person says after looking at a checkpoint."""

    CLEAR = "clear"
    NOT_CLEAR = "not-clear"
    CANNOT_TELL = "cannot-tell"


FINDINGS = sentences_beside(__file__)["findings"]


class Variant(_Table, frozen=True):
    """A build of the device that needs other steps; a job is run for one."""

    id: Identifier
    title: Sentence


class Device(_Table, frozen=True):
    """The family of devices a step list is for."""

    family: Sentence
    model: Sentence
    variants: tuple[Variant, ...] = ()


class Caution(_Table, frozen=True):
    """What can hurt, and how to avoid it; shown at each step that names it."""

    id: Identifier
    signal: Signal
    hazard: Sentence
    avoid: Sentence


class Item(_Table, frozen=True):
    """A tool, a consumable or a part that must be new each time."""

    id: Identifier
    name: Sentence


USUAL_RECESS_TOLERANCE = 0.05
MOST_RECESS = 5.0


class Measurement(_Table, frozen=True):
    """A measurement run on a photo, with its limits in ``unit``.

    ``at_least`` and ``at_most`` are the specification limits: of the seam's
    width for a gap (mm), of the distance between the strip's centre and its
    opening's for a mesh (mm), of the marked area for residue (mm2, optional).
    ``reference`` and ``second`` belong to residue: the id of a photo wanted at
    an earlier step that shows the same area clean, and of one wanted at the same
    checkpoint, before this photo, that shows it from another angle; without it
    residue cannot be told from shadows. ``recess`` belongs to a mesh: how far
    the strip's face lies below its opening's rim, give or take
    ``recess_tolerance`` (mm; USUAL_RECESS_TOLERANCE where it is not given). The
    result is advice beside the photo and never gives the finding.
    """

    kind: MeasurementKind
    unit: Unit | None = None
    at_least: float | None = None
    at_most: float | None = None
    reference: Identifier | None = None
    second: Identifier | None = None
    recess: float | None = None
    recess_tolerance: float | None = None


class PhotoWanted(_Table, frozen=True):
    """A photo that is owed. ``scale_card`` asks for the card in view."""

    id: Identifier
    framing: Sentence
    scale_card: bool = False
    measurement: Measurement | None = None


class Rule(_Table, frozen=True):
    """What a finding leads to: exactly one of the three.

    ``go_on`` moves to the next step; ``redo_from`` goes back to the named step,
    which is this one or an earlier one (at most ``redo_limit`` times, after
    which the stop rule ``then_stop`` applies; without a limit, as often as
    needed); ``stop`` ends the repair under the named stop rule.
    """

    go_on: bool = False
    redo_from: Identifier | None = None
    redo_limit: Annotated[int, Meta(ge=1, le=100)] | None = None
    then_stop: Identifier | None = None
    stop: Identifier | None = None


class FindingRules(_Table, frozen=True):
    """A rule for each of the three findings; none may be left out."""

    clear: Rule
    not_clear: Rule
    cannot_tell: Rule

    def rule_for(self, finding: Finding) -> Rule:
        return getattr(self, finding.name.lower())


class Checkpoint(_Table, frozen=True):
    """Photos that are owed and the question a person answers from them."""

    question: Sentence
    photos: Annotated[tuple[PhotoWanted, ...], Meta(min_length=1)]
    finding: FindingRules


class Hold(_Table, frozen=True):
    """A timed press or bond; the minimum cannot be cut short unrecorded."""

    applied: Sentence
    at_least_s: Annotated[float, Meta(gt=0)]
    at_most_s: Annotated[float, Meta(gt=0)] | None = None


class Reading(_Table, frozen=True):
    """A value typed, spoken or scanned.

    ``decimals`` is for numbers; ``text = true`` asks for text (a part or serial
    number), which has neither unit nor limits.
    """

    id: Identifier
    name: Sentence
    unit: Unit | None = None
    at_least: float | None = None
    at_most: float | None = None
    decimals: Annotated[int, Meta(ge=0, le=6)] = 0
    text: bool = False
    scan: bool = False


class StepPicture(_Table, frozen=True):
    """A picture of what to do (PNG or JPEG): its file, in the step list's folder or below, the
    SHA-256 of that file (``steps check`` names it where another is written), and in words what it
    ``shows``, for who cannot see it."""

    file: PictureFile
    sha256: Digest
    shows: Sentence


class CountedThing(_Table, frozen=True):
    """Something that can be left behind in a device: fasteners, tabs, strips, picks, wipes, shims.

    ``what`` is the trade's word for it, ``kind`` which one of its sort it is (a screw's thread
    and head), ``place`` where it sits. It is counted in ``variants`` only, where some are named.
    ``missing`` names the stop rule under which the repair can be stopped while its count differs.
    """

    id: Identifier
    what: Sentence
    kind: Sentence | None = None
    place: Sentence | None = None
    variants: tuple[Identifier, ...] = ()
    missing: Identifier | None = None

    @property
    def words(self) -> str:
        return ", ".join(part.strip().rstrip(".") for part in (self.what, self.kind, self.place) if part)


Pieces = Annotated[int, Meta(ge=1, le=limits.COUNTED_PIECES)]


class CountAsked(_Table, frozen=True):
    """How many pieces of a counted thing come out of the device at a step, or go into it."""

    thing: Identifier
    out: Pieces | None = None
    in_: Pieces | None = field(default=None, name="in")

    @property
    def goes(self) -> Literal["out", "in"]:
        return "in" if self.out is None else "out"

    @property
    def listed(self) -> int:
        return self.out or self.in_ or 0


class Step(_Table, frozen=True):
    """One instruction.

    What is owed is asked in this order: hold, readings, counts, photos, finding.
    ``variants`` limits the step to those variants. ``picture``, of older lists, names a
    picture without its digest, which is not shown.
    """

    id: Identifier
    title: Sentence
    instruction: Sentence
    variants: tuple[Identifier, ...] = ()
    cautions: tuple[Identifier, ...] = ()
    picture: PictureFile | None = None
    pictures: Annotated[tuple[StepPicture, ...], Meta(max_length=4)] = ()
    hold: Hold | None = None
    readings: tuple[Reading, ...] = ()
    counts: tuple[CountAsked, ...] = ()
    checkpoint: Checkpoint | None = None


class StopRule(_Table, frozen=True):
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


class StepList(_Table, frozen=True, kw_only=True):
    """A whole file. ``format`` is the version of this layout (1).

    ``stop_by_technician`` names the stop rule used when the technician stops
    the repair at a step without a finding. ``defers_to`` says which codes and
    instructions come before this list. ``new_parts`` must be new each time. ``counted`` is what
    must come out again where it went in, or be told.
    """

    format: Annotated[int, Meta(ge=1, le=1)]
    id: Identifier
    version: Annotated[
        str,
        Meta(
            pattern=r"^[0-9]+\.[0-9]+(\.[0-9]+)?" + _END,
            max_length=32,
            description=mark("numbers joined by full stops, for instance 1.0"),
        ),
    ]
    title: Sentence
    device: Device
    defers_to: Sentence
    stop_by_technician: Identifier
    cautions: tuple[Caution, ...]
    tools: tuple[Item, ...] = ()
    consumables: tuple[Item, ...] = ()
    new_parts: tuple[Item, ...] = ()
    counted: tuple[CountedThing, ...] = ()
    steps: Annotated[tuple[Step, ...], Meta(min_length=1)]
    stop_rules: Annotated[tuple[StopRule, ...], Meta(min_length=1)]
