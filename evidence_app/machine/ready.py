"""Every part of the machine, one after the other, in the order in which work needs them."""

from collections.abc import Callable, Iterator
from pathlib import Path

from evidence_app.machine import senses, surroundings
from evidence_app.machine.part import MachinePart


def look(
    camera: str, microphone: str, language: str, key: Path, key_list: Path | None
) -> Iterator[MachinePart]:
    """Tries each part; some take seconds, so that each is given as soon as it is known.

    ``camera`` and ``microphone`` as the settings name them.
    """
    checks: tuple[Callable[[], MachinePart], ...] = (
        surroundings.screen,
        lambda: senses.camera(camera),
        lambda: senses.microphone(microphone),
        senses.speech_model,
        senses.loudspeaker,
        lambda: senses.reading_aloud(language),
        surroundings.printer,
        surroundings.clock,
        surroundings.disk,
        lambda: surroundings.keys(key, key_list),
    )
    for check in checks:
        yield check()
