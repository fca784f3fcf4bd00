"""What several commands ask for: a PIN, a file's bytes, a progress bar."""

import math
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

from evidence_app.errors import EvidenceError, SigningKeyError, turned
from evidence_app.language import say
from evidence_app.package.durable import new_file
from evidence_app.package.keys.signing_key import SigningKey, open_key
from evidence_app.reading import read_named
from evidence_app.sentence import NOTHING, Sentence, sentence

PIN_VARIABLE = "EVIDENCE_APP_PIN"


def opened_key(path: Path, pin_file: Path | None) -> SigningKey:
    """The key in ``path``; its PIN from the file, the environment, or asked for."""
    if b"ENCRYPTED" not in bytes_of(path, sentence("make one with: evidence-app keys make")):
        return open_key(path)
    return open_key(path, pin_of(pin_file))


def pin_of(pin_file: Path | None, confirm: bool = False) -> str:
    """A PIN from a file or, failing that, from EVIDENCE_APP_PIN or the keyboard."""
    if pin_file is not None:
        return bytes_of(pin_file).decode("utf-8", "replace").strip()
    return os.environ.get(PIN_VARIABLE) or _asked_pin(confirm)


def _asked_pin(confirm: bool) -> str:
    if sys.stdin.isatty():
        return click.prompt("PIN", hide_input=True, confirmation_prompt=confirm)
    if pin := sys.stdin.readline().strip():
        return pin
    raise SigningKeyError(
        sentence("a PIN is needed and there is no keyboard to ask for it"),
        remedy=sentence("set {PIN_VARIABLE}, or name a file with --pin-file", PIN_VARIABLE=PIN_VARIABLE),
    )


def bytes_of(path: Path, remedy: Sentence = NOTHING) -> bytes:
    return read_named(path, remedy=remedy or sentence("check the path"))


def write_new(path: Path, data: bytes) -> None:
    """Writes a file that must not exist yet: whole, or not at all."""
    with new_file(path) as file:
        file.write(data)


def make_folder(path: Path) -> None:
    """Makes a folder, and those above it, where they are missing."""
    what = sentence("the folder cannot be made ({strerror})")
    remedy = sentence("name a folder in a place that can be written to")
    with turned(OSError, EvidenceError, what, str(path), remedy):
        path.mkdir(parents=True, exist_ok=True)


class GroupWithDefault(click.Group):
    """Whose command ``default`` is meant where the first word is none of its commands."""

    def __init__(self, *given: Any, default: str, **named: Any) -> None:
        super().__init__(*given, **named)
        self._default = default

    def resolve_command(self, ctx: click.Context, args: list[str]):
        if args and args[0] not in self.commands:
            args = [self._default, *args]
        return super().resolve_command(ctx, args)


class Seconds(click.FloatRange):
    """A length of time on the command line: a tenth of a second to an hour."""

    def __init__(self) -> None:
        super().__init__(0.1, 3600)

    def convert(self, value, param, ctx) -> float:
        seconds = super().convert(value, param, ctx)
        if math.isnan(seconds):  # passes every comparison with a limit
            self.fail(say("{value!r} is not a number", value=value), param, ctx)
        return seconds


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on a terminal, nothing elsewhere; the call takes bytes done and in all."""
    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), DownloadColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task(title, total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)
