"""A hold: what is applied, how long it still takes, what a release now would mean."""

import math

from msgspec import Struct

from evidence_app.job.state.job_state import JobState
from evidence_app.language import say
from evidence_app.record.event import Instant
from evidence_app.steplist.model import Step
from evidence_app.writing import duration


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
    limits = say("at least {time}", time=duration(hold.at_least_s))
    if hold.at_most_s is not None:
        limits = say(
            "at least {low}, at most {high}", low=duration(hold.at_least_s), high=duration(hold.at_most_s)
        )
    share, earlier, main = 1.0, None, ("end", say("End the hold"))
    held_us, ended = state.held_us(now), state.hold_of(step.id)
    if state.hold is not None and held_us is not None:
        held_s = held_us / 1e6
        left = hold.at_least_s - held_s
        if left > 0:
            phase, clock, words = "running", _clock(left), say("Keep it held.")
            share, main = held_s / hold.at_least_s, ("release", say("Release early (recorded as not met)"))
        elif hold.at_most_s is not None and held_s > hold.at_most_s:
            phase, clock = "late", _clock(-left, "+")
            words = say("Held too long. End it now; it will be recorded as not met and must be repeated.")
        else:
            phase, clock = "over", _clock(-left, "+")
            words = say("Long enough. Take it off and end the hold.")
    elif ended is not None and ended.met:
        phase, clock, words = "met", _clock(0), say("Held long enough.")
        main = ("step", say("Back to the step"))
    else:
        phase, clock, words = "before", _clock(hold.at_least_s), say("Start the timer once it is in place.")
        share, main = 0.0, ("start", say("Start the hold"))
        if ended is not None:
            earlier = say("The last hold was not met. Start again from zero.")
    return HoldShown(phase, hold.applied, limits, clock, words, share, main, earlier)


def long_enough(step: Step | None, state: JobState, now: Instant) -> bool:
    """A hold is running and has reached its least time."""
    if step is None or step.hold is None or state.hold is None:
        return False
    held_us = state.held_us(now)
    return held_us is not None and held_us / 1e6 >= step.hold.at_least_s


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
