"""A terminal to type at, and the files that a repair needs."""

from __future__ import annotations

import shlex
from pathlib import Path

import click
import numpy as np
import soundfile
from click.testing import CliRunner, Result

from tests import steplists as parts
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
    return parts.step_list(
        "slot-look",
        "Look into a tab slot",
        parts.device(),
        parts.SPRUNG_STAND,
        parts.LAMP,
        parts.COUNTED.replace("slot-residue", "stopped"),
        parts.step(
            "look",
            "Look",
            "Shine the lamp into the slot.",
            parts.hold("Stand held open by hand", 0.3),
            parts.reading(
                "leaf", "Thickest leaf that enters", 'unit = "mm"\nat-most = 0.2\ndecimals = 2\n'
            ),
            parts.checkpoint(
                "Is the slot empty?",
                parts.photo("slot", "The slot from above"),
                not_clear='{ stop = "stopped" }',
                cannot_tell='{ stop = "stopped" }',
            ),
            more='cautions = ["sprung-stand"]\ncounts = [{ thing = "rim-screws", out = 4 }]\n',
        ),
        parts.stop_rule(
            "stopped",
            "The technician stops.",
            "Hand the unit over.",
            parts.stop_photo("reason", "The reason"),
            more='prohibitions = ["Do not go on."]\nspoken-reason = false\n',
        ),
    )
