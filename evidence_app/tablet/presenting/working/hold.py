"""A hold: what is applied, how long it still takes, what a release now would mean."""

import math

from msgspec import Struct

from evidence_app.job.state.job_state import JobState
from evidence_app.language import say
from evidence_app.record.event import Instant
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import Hold, Step
from evidence_app.writing import duration

_PHASES = sentences_beside(__file__)["phases"]
_MAIN = {"before": "start", "running": "release", "met": "step"}
"""What the thing to do next is in each phase; in the others, ending the hold."""


class HoldShown(Struct, frozen=True):
    """``phase``: "before", "running", "over" (long enough), "late" (over its longest time)
    or "met". ``share`` of the least time that has passed, 0 to 1."""

    phase: str
    applied: str
    limits: str
    clock: str
    words: str
    share: float
    main: tuple[str, str]
    earlier: str | None


def hold_shown(step: Step, state: JobState, now: Instant) -> HoldShown:
    """Counted on the monotonic clock only, so it keeps right across sleep and restarts
    of the app."""
    hold = step.hold
    assert hold is not None
    share, earlier = 1.0, None
    held_us, ended = state.held_us(now), state.hold_of(step.id)
    if held_us is not None:
        held_s = held_us / 1e6
        left = hold.at_least_s - held_s
        if left > 0:
            phase, clock, share = "running", _clock(left), held_s / hold.at_least_s
        else:
            late = hold.at_most_s is not None and held_s > hold.at_most_s
            phase, clock = "late" if late else "over", _clock(-left, "+")
    elif ended is not None and ended.met:
        phase, clock = "met", _clock(0)
    else:
        phase, clock, share = "before", _clock(hold.at_least_s), 0.0
        if ended is not None:
            earlier = say("The last hold was not met. Start again from zero.")
    told = _PHASES[phase]
    main = (_MAIN.get(phase, "end"), say(told["main"]))
    return HoldShown(
        phase, hold.applied, hold_limits(hold), clock, say(told["words"]), share, main, earlier
    )


def hold_limits(hold: Hold) -> str:
    low = duration(hold.at_least_s)
    if hold.at_most_s is None:
        return say("at least {time}", time=low)
    return say("at least {low}, at most {high}", low=low, high=duration(hold.at_most_s))


def _clock(seconds: float, sign: str = "") -> str:
    """Minutes and seconds; what is left is rounded up, what is over rounded down."""
    whole = math.floor(seconds) if sign else math.ceil(seconds)
    minutes, rest = divmod(max(0, whole), 60)
    return f"{sign}{minutes}:{rest:02d}"


def signal_words(sound: bool, vibration: bool, played: bool, buzzed: bool) -> tuple[str, ...]:
    """What came of trying the signal: what was wanted, and what could be given."""
    if not sound and not vibration:
        return (say("Sound and vibration are off; the screen alone tells the end of a hold."),)
    words = []
    if sound:
        words.append(
            say("The sound is played. If it cannot be heard, turn the tablet up.")
            if played
            else say("No sound can be played on this tablet.")
        )
    if vibration:
        words.append(say("The tablet vibrates.") if buzzed else say("The tablet does not vibrate."))
    return tuple(words)
