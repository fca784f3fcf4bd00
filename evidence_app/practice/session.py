"""Session scripts: what a practice technician sees, says and does, as a TOML file.

A script names only what differs from doing each thing that is owed in turn, so
that it reads like the story of a repair. ``at`` entries apply to one visit of
one step; a step that is redone has a second visit.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import msgspec
from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.commands import CountPieces
from evidence_app.prepared import prepare
from evidence_app.record.event import Event
from evidence_app.sentence import sentences_beside

_WORDS = sentences_beside(__file__)

LESSONS = {"en": "lesson/first-lesson", "de": "lesson/erste-uebung"}
"""In which the tablet is learnt by doing, by the language of the screen."""

SESSIONS = ("completed", "stopped-at-residue", "power-loss", "retaken-and-gauged")
"""The sample sessions, in the order in which they are told."""


class _Table(Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """Settings shared by every table of a script."""


class Visit(_Table, kw_only=True, frozen=True):
    """What happens at one visit of one step, or after a stop.

    ``takes`` maps a wanted photo to the scenes before the camera at successive
    takes; a scene is a specification of the practice camera. A take that fails
    the gate is repeated with the next scene, or kept when ``keep`` gives a
    reason. ``early-release-s`` releases the first hold too soon.
    ``counts`` are those that are not as listed. ``power-cut`` kills the process in the middle of what it names, and
    ``out-s`` is how long the power stays away. ``clock-set-s`` moves the wall
    clock by so many seconds, which a hold must not notice.
    """

    step: str
    visit: int = 1
    takes: dict[str, tuple[str, ...]] = {}
    keep: dict[str, str] = {}
    readings: dict[str, str] = {}
    counts: tuple[CountPieces, ...] = ()
    finding: Literal["clear", "not-clear", "cannot-tell"] | None = None
    says: str | None = None
    writes: str | None = None
    early_release_s: float | None = None
    clock_set_s: float | None = None
    power_cut: Literal["in-note", "after-photo", "in-hold"] | None = None
    out_s: float = 1800.0


class AfterStop(_Table, kw_only=True, frozen=True):
    """What is added after a stop: scenes, the spoken reason and names by role."""

    takes: dict[str, tuple[str, ...]] = {}
    says: str = ""
    names: dict[str, str] = {}


class Expected(_Table, kw_only=True, frozen=True):
    """What the package of this session must show."""

    outcome: Literal["completed", "stopped", "abandoned"]
    stop_rule: str | None = None
    retakes: int = 0
    kept: int = 0
    restarts: int = 0
    early_releases: int = 0
    counts_explained: int = 0


class ConfirmedCard(_Table, frozen=True):
    """The scale card as a rule confirmed it: the length of its printed 50 mm bar, read to
    0.1 mm either way, and its thickness with its backing."""

    serial: str
    bar_mm: float
    thickness_mm: float


class Session(_Table, kw_only=True, frozen=True):
    """A whole script. ``card`` is the confirmed scale card, none when it is left out. ``scenes`` gives the scene for each wanted photo that no
    visit names; ``pace-s`` is the time that passes between two actions."""

    format: Literal[1]
    title: str
    story: str
    step_list: str
    variant: str | None = None
    serial: str
    claim: str
    technician: str
    begins: str
    pace_s: float = 20.0
    card: ConfirmedCard | None = None
    scenes: dict[str, str]
    readings: dict[str, str] = {}
    at: tuple[Visit, ...] = ()
    after_stop: AfterStop | None = None
    expected: Expected

    def visit_at(self, step: str, events: Sequence[Event]) -> Visit:
        """The entry for the visit of ``step`` that ``events`` have come to, or one that changes
        nothing."""
        number = sum(e.kind == "step-entered" and e.step == step for e in events)
        for entry in self.at:
            if entry.step == step and entry.visit == number:
                return entry
        return Visit(step=step, visit=number)


def since_entering(events: Sequence[Event], step: str | None) -> list[Event]:
    """The events since ``step`` was entered last."""
    since: list[Event] = []
    for event in events:
        since = [] if event.kind == "step-entered" and event.step == step else [*since, event]
    return since


def takes_of(wanted: str | None, since: Sequence[Event]) -> int:
    return sum(e.kind == "photo-taken" and e.body["wanted"] == wanted for e in since)


def load_session(path: Path) -> Session:
    """Reads a script. Raises EvidenceError naming the file and the key."""
    try:
        return msgspec.toml.decode(path.read_bytes(), type=Session)
    except OSError as error:
        raise EvidenceError.worded(_WORDS["unreadable"], str(path), problem=error.strerror) from error
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise EvidenceError.worded(_WORDS["not-right"], str(path), error=error) from error


prepare(Session)
