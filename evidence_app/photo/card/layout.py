"""The scale card's layout, read from the one file that printer, detector and
practice scenes share (layout.toml). Lengths in mm, reflectances from 0 to 1.
"""

from functools import cache
from importlib.resources import files
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from evidence_app.prepared import prepare

Length = Annotated[float, Meta(gt=0)]
Reflectance = Annotated[float, Meta(gt=0, lt=1)]


class _Table(Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """Settings shared by every table of the file."""


class Outline(_Table, frozen=True):
    width: Length
    height: Length
    corner_radius: Length


class MarkerPlace(_Table, frozen=True):
    """``x`` and ``y`` are the middle of the marker."""

    id: int
    x: float
    y: float


class Markers(_Table, frozen=True):
    """``side`` is the outer side of the black border; ``at`` lists top left, top
    right, bottom right, bottom left."""

    dictionary: str
    side: Length
    at: tuple[MarkerPlace, MarkerPlace, MarkerPlace, MarkerPlace]


class Print(_Table, frozen=True):
    paper: Reflectance
    black: Reflectance


class Patch(_Table, frozen=True):
    """A grey rectangle; ``x`` and ``y`` are its middle."""

    x: float
    y: float
    width: Length
    height: Length
    reflectance: Reflectance


class CheckBar(_Table, frozen=True):
    x: float
    y: float
    length: Length
    thickness: Length
    tick: Length
    minor: Length


class TextLine(_Table, frozen=True):
    x: float
    y: float
    height: Length


class CardText(_Table, frozen=True):
    title: TextLine
    serial: TextLine


class Unconfirmed(_Table, frozen=True):
    thickness: Length
    pitch_relative_limit: Length


class CardLayout(_Table, frozen=True):
    format: Annotated[int, Meta(ge=1, le=1)]
    name: str
    outline: Outline
    markers: Markers
    print: Print
    patches: tuple[Patch, ...]
    check_bar: CheckBar
    text: CardText
    unconfirmed: Unconfirmed

    def corners(self, marker: MarkerPlace) -> tuple[tuple[float, float], ...]:
        """Outer corners of a marker: top left, top right, bottom right, bottom left."""
        half = self.markers.side / 2
        return tuple(
            (marker.x + sx * half, marker.y + sy * half) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        )


@cache
def card_layout() -> CardLayout:
    """The layout that ships with the app."""
    text = files("evidence_app.photo.card").joinpath("layout.toml").read_bytes()
    return msgspec.toml.decode(text, type=CardLayout)


prepare(CardLayout)
