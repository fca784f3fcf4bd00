"""A terminal to type at, and the files that a repair needs."""

from __future__ import annotations

import shlex
from pathlib import Path

import click
import numpy as np
import soundfile
from click.testing import CliRunner, Result

from tests.kill.worker import base_photo


class Terminal:
    """Types commands; keeps what they print."""

    def __init__(self, runner: CliRunner, command: click.Command) -> None:
        self._runner = runner
        self._command = command

    def type(self, line: str) -> Result:
        return self._runner.invoke(self._command, shlex.split(line))

    def does(self, line: str) -> str:
        result = self.type(line)
        assert result.exit_code == 0, f"{line}: {result.output}{result.exception!r}"
        return result.output

    def refuses(self, line: str, status: int = 2) -> str:
        """What it says when it refuses: never a traceback."""
        result = self.type(line)
        assert result.exit_code == status, f"{line}: {result.exit_code} {result.output}"
        assert result.exception is None or isinstance(result.exception, SystemExit)
        return result.output


def good_photo() -> bytes:
    return base_photo()


def write_sound(path: Path, samples: np.ndarray) -> None:
    soundfile.write(path, samples, 16_000, subtype="PCM_16")


def step_list() -> str:
    """One step that has everything: hold, reading, photo, finding."""
    return """\
format = 1
id = "slot-look"
version = "1.0"
title = "Look into a tab slot"
defers-to = "Local codes and licensed practice come first."
stop-by-technician = "stopped"

[device]
family = "Chart terminals"
model = "Ossmere H7"

[[cautions]]
id = "sprung-stand"
signal = "CAUTION"
hazard = "The stand is sprung and can pinch fingers."
avoid = "Hold the stand closed with one hand."

[[tools]]
id = "lamp"
name = "Hand lamp"

[[steps]]
id = "look"
title = "Look"
instruction = "Shine the lamp into the slot."
cautions = ["sprung-stand"]

[steps.hold]
applied = "Stand held open by hand"
at-least-s = 0.3

[[steps.readings]]
id = "leaf"
name = "Thickest leaf that enters"
unit = "mm"
at-most = 0.2
decimals = 2

[steps.checkpoint]
question = "Is the slot empty?"

[[steps.checkpoint.photos]]
id = "slot"
framing = "The slot from above"

[steps.checkpoint.finding]
clear = { go-on = true }
not-clear = { stop = "stopped" }
cannot-tell = { stop = "stopped" }

[[stop-rules]]
id = "stopped"
reason = "The technician stops."
disposition = "Hand the unit over."
prohibitions = ["Do not go on."]
spoken-reason = false

[[stop-rules.photos]]
id = "reason"
framing = "The reason"
"""
