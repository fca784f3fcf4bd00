"""Each command's help ends with an example, and the examples are run, in their order, as one
depot's work.

What stands for hardware, for the network and for digits that differ with every key is put in
here. Four examples are only read, because other tests run the same: the demo
(tests/test_documents.py), the tablet (tests/tablet), the desk's page (tests/deskpage) and the
making of a kit (tests/kit).
"""

import glob
import hashlib
import io
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from PIL import Image

from evidence_app.cli import main
from evidence_app.locations import asset
from evidence_app.practice.microphone import speech
from evidence_app.practice.scenes.named import scene_of
from tests.commands.bench import good_photo, step_list, write_sound
from tests.commands.test_study import GOOD
from tests.package.conftest import TimeAuthority
from tests.photo.truths import jpeg_of

LINES = asset("examples.txt").read_text("utf-8").splitlines()
ELSEWHERE = ("demo", "tablet", "desk", "kit make")
LAST_STEP = '[[steps]]\nid = "end"\ntitle = "End"\ninstruction = "Put the lamp away."\n\n'


def every_command(command: click.Command, path: tuple[str, ...] = ()):
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            yield from every_command(command.get_command(context, name), (*path, name))


COMMANDS = dict(every_command(main))


@pytest.mark.parametrize("path", COMMANDS, ids=lambda path: "-".join(path) or "none")
def test_the_help_ends_with_an_example_of_that_command(path):
    said = CliRunner().invoke(main, [*path, "--help"], terminal_width=400).output
    last = said.strip().splitlines()[-1].strip()
    assert last in LINES and shlex.split(last)[1 : 1 + len(path)] == list(path)


def _picture(side: int) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (side, side), "grey").save(held, "JPEG")
    return held.getvalue()


@pytest.fixture(scope="module")
def depot(tmp_path_factory):
    """Runs one line at a time in a folder with what the lines name."""
    folder = tmp_path_factory.mktemp("depot")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVIDENCE_APP_HOME", str(folder / "home"))
        patch.setenv("EVIDENCE_APP_PIN", "604192")
        patch.chdir(folder)
        (folder / "sample_sessions").symlink_to(asset("examples.txt").parents[1] / "sample_sessions")
        parts = step_list().partition("[[stop-rules]]")
        (folder / "list.toml").write_text(parts[0] + LAST_STEP + "".join(parts[1:]), "utf-8")
        (folder / "readings.csv").write_text(GOOD, "utf-8")
        (folder / "soft.jpg").write_bytes(_picture(300))
        (folder / "seam.jpg").write_bytes(jpeg_of(scene_of("seam?gap_mm=0.12&seed=38")))
        (folder / "good.jpg").write_bytes(good_photo())
        write_sound(folder / "note.wav", speech("The slot is empty."))
        yield Depot(folder, TimeAuthority(folder / "authority"))


class Depot:
    def __init__(self, folder: Path, authority: TimeAuthority) -> None:
        self._folder, self._authority = folder, authority

    def type(self, line: str):
        words = shlex.split(self._with_what_is_here(line))[1:]
        typed: list[str] = []
        for word in words:
            typed += sorted(glob.glob(word)) or [word]  # as a shell leaves what it cannot expand
        password = "a long pass phrase\n" * 2 if "accounts add" in line else None
        return CliRunner().invoke(main, typed, input=password)

    def _with_what_is_here(self, line: str) -> str:
        if "job photo job-2" in line:
            return line.replace("camera:0", "file:good.jpg")
        if "devices microphone" in line or "voice try" in line:
            line = line.replace("microphone --", "microphone file:note.wav --")
            return line.replace("voice try", "voice try file:note.wav")
        if "job keep" in line:
            return line.replace("3f8a", self._digest("soft.jpg"))
        if "keys revoke" in line:
            said = self.type("evidence-app keys digest tablet-7.public.pem").output
            return line.replace("9c41", next(w for w in said.split() if len(w) == 64)[:8])
        if "timestamp attach" in line:
            answer = self._authority.answer((self._folder / "seal.tsq").read_bytes())
            (self._folder / "seal.tsr").write_bytes(answer)
        if "keys decrypt" in line:
            self._encrypt()
        return line.replace("camera:0", "file:soft.jpg")

    def _digest(self, name: str) -> str:
        return hashlib.sha256((self._folder / name).read_bytes()).hexdigest()[:8]

    def _encrypt(self) -> None:
        from evidence_app.package.keys.transport import encrypt_package

        text = (self._folder / "desk-key.txt").read_text("utf-8")
        public = text.partition("public key: ")[2].split()[0]
        package = next((self._folder / "packages").glob("*.zip"))
        encrypt_package(package, public).rename(self._folder / "package.zip.age")


def _command_of(line: str) -> str:
    words = shlex.split(line)[1:]
    return " ".join(max((p for p in COMMANDS if list(p) == words[: len(p)]), key=len))


# The machine that runs the tests may have no sound card and no screen, which ``ready`` says.
OTHER = {"ready": {0, 1}}


def test_the_examples_do_what_they_say(depot):
    """In one test, since each line works on what the lines before it left."""
    for line in LINES:
        command = _command_of(line)
        if command in ELSEWHERE:
            words = shlex.split(line)[1 + len(command.split()) :]
            COMMANDS[tuple(command.split())].make_context(command, words)
            continue
        done = depot.type(line)
        assert done.exit_code in OTHER.get(command, {0}), f"{line}\n{done.output}{done.exception!r}"
