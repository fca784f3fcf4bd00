"""What was shown, said and decided in a job: one small value for each kind.

Every value carries the ``sequence`` of the event that it began with and the
step at which that was recorded.
"""

from msgspec import Struct

from evidence_app.job import vocabulary as v


class Photo(Struct, frozen=True):
    """``passes`` is None until the gate has judged it."""

    sequence: int
    sha256: str
    step: str | None
    wanted: str | None
    purpose: v.Purpose
    retake_of: str | None
    passes: bool | None = None
    judged: v.PhotoJudged | None = None
    kept: str | None = None
    measured: v.Measured | None = None

    @property
    def settled(self) -> bool:
        """Whether the photo can meet what is owed: passed, or kept with a reason."""
        return self.passes is True or self.kept is not None


class RunningHold(Struct, frozen=True):
    """``boot`` is None when the machine was restarted since the hold began."""

    sequence: int
    step: str | None
    at_least_s: float
    mono_us: int
    boot: str | None


class EndedHold(Struct, frozen=True):
    sequence: int
    step: str | None
    held_s: float | None
    met: bool


class ReadingGiven(v.ReadingEntered, frozen=True, kw_only=True):
    sequence: int
    step: str | None


class CountGiven(v.PiecesCounted, frozen=True, kw_only=True):
    sequence: int
    step: str | None


class GivenFinding(v.FindingGiven, frozen=True, kw_only=True):
    sequence: int
    step: str | None


class Note(Struct, frozen=True):
    """``heard`` is "recording", "recorded", "lost" or "written".

    ``no_microphone``: it was written while the microphone was reported lost.
    """

    id: str
    sequence: int
    step: str | None
    photo: str | None
    heard: str
    audio: v.Ref | None = None
    seconds: float = 0.0
    cut_short: bool = False
    text: str | None = None
    transcript: str | None = None
    no_microphone: bool = False


class Stop(v.RepairStopped, frozen=True, kw_only=True):
    sequence: int
    step: str | None


class Name(v.NameGiven, frozen=True, kw_only=True):
    sequence: int
    step: str | None
