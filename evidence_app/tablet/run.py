"""Starts the app: Kivy is prepared first, then imported."""

import os
import sys
from pathlib import Path

import msgspec

from evidence_app.errors import EvidenceError
from evidence_app.machine.screen import pixels_per_mm
from evidence_app.sentence import sentence
from evidence_app.tablet.settings import load_settings
from evidence_app.tablet.setup import prepare


def run(
    size: tuple[int, int],
    camera: str | None = None,
    microphone: str | None = None,
    screenshots: Path | None = None,
    **chosen: object,
) -> None:
    """Returns when the window is closed. Raises EvidenceError when there is no screen."""
    if sys.platform.startswith("linux") and not any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")
    ):
        raise EvidenceError(
            sentence("there is no screen to show the app on"),
            where=sentence("tablet"),
            remedy=sentence("start it on the tablet itself, or set DISPLAY"),
        )
    settings, problem = load_settings()
    settings = msgspec.structs.replace(
        settings, **{name: value for name, value in chosen.items() if value is not None}
    )
    prepare(size, settings.pixels_per_mm or pixels_per_mm() or 0.0)
    from evidence_app.tablet.app import TabletApp

    app = TabletApp(settings, problem, camera=camera, microphone=microphone, screenshots=screenshots)
    app.run()
