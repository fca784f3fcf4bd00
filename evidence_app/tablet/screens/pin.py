"""Choosing a PIN: given twice, because one mistyped at its choice would lock the key away."""

from collections.abc import Callable

from evidence_app.errors import EvidenceError, SigningKeyError
from evidence_app.language import say, say_many
from evidence_app.package.keys.signing_key import check_new_pin
from evidence_app.tablet.presenting.problem import problem_words
from evidence_app.tablet.sealing import wrong_pins


def choose_pin(
    frame, done: Callable[[str], None], back: Callable[[], None], asked: str = "", problem: str = ""
) -> None:
    """``done(pin)`` with a PIN that is good enough and was given twice alike.

    ``asked`` says whose key it is for; by default this tablet's.
    """
    asked = asked or say("Choose a PIN for this tablet's key: six digits or more")

    def again(pin: str, _by: str) -> None:
        try:
            check_new_pin(pin)
        except SigningKeyError as error:
            choose_pin(frame, done, back, asked, problem_words(EvidenceError(error.what)))
            return

        def compared(second: str, _by: str) -> None:
            if second == pin:
                done(pin)
            else:
                choose_pin(frame, done, back, asked, say("The two PINs differ; none was set."))

        ask_pin(frame, say("The same PIN once more"), compared, back)

    ask_pin(frame, f"{problem} {asked}".strip(), again, back)


def ask_device_pin(
    frame, done: Callable[[str], None], back: Callable[[], None], problem: EvidenceError | None = None
) -> None:
    """The PIN of this tablet's key. After a wrong one the pad stays, and says how many were
    wrong and how long to wait."""
    asked = say("PIN of this tablet's key")
    if problem is not None:
        failed, left = wrong_pins()
        told = say_many("{count} wrong PIN so far.", "{count} wrong PINs so far.", failed)
        wait = say("Wait {left} s before the next one.", left=left) if left else ""
        asked = "\n".join(
            part for part in (problem_words(EvidenceError(problem.what)), told, wait, asked) if part
        )
    ask_pin(frame, asked, lambda pin, _by: done(pin), back)


def ask_pin(frame, asked: str, done: Callable[[str, str], None], back: Callable[[], None]) -> None:
    frame.go("entry", asked=asked, pin=True, main=say("Go on"), done=done, back=back)
