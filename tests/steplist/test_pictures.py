"""``steps check`` looks at the pictures beside a list; each fault has its line."""

from __future__ import annotations

import hashlib
import io
import random

import pytest
from click.testing import CliRunner
from PIL import Image

from evidence_app import limits
from evidence_app.cli import main
from tests.steplist.valid import VALID, changed, line_of


def picture(kind="PNG", size=(40, 30), colour="white") -> bytes:
    made = io.BytesIO()
    Image.new("RGB", size, colour).save(made, kind)
    return made.getvalue()


def listed(data: bytes, file: str = "pictures/read.png", sha256: str | None = None) -> str:
    table = (
        f'\n[[steps.pictures]]\nfile = "{file}"\nsha256 = "{sha256 or hashlib.sha256(data).hexdigest()}"'
        '\nshows = "A finger at the number plate."\n'
    )
    named = 'instruction = "Read the number."\npicture = "identify.png"\n'
    return changed(named, named.replace('picture = "identify.png"\n', "") + table)


@pytest.fixture
def steps(tmp_path):
    """Runs ``steps COMMAND`` on a list with ``text`` beside its picture with ``data``."""

    def run(command: str, text: str, data: bytes | None, file: str = "pictures/read.png"):
        (tmp_path / "list.toml").write_text(text, "utf-8")
        (tmp_path / "pictures").mkdir()
        if data is not None:
            (tmp_path / file).write_bytes(data)
        return CliRunner().invoke(main, ["steps", command, str(tmp_path / "list.toml")])

    return run


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_list_with_its_picture_beside_it_can_be_used(steps, kind):
    data = picture(kind)
    said = steps("check", listed(data), data)
    assert said.exit_code == 0, said.output


def test_an_older_list_names_a_picture_without_a_digest(steps):
    assert steps("check", VALID, None).exit_code == 0


def refused(said, text, on, words):
    assert said.exit_code == 2
    assert f"list.toml, line {line_of(on, text)}," in said.output
    assert words in said.output


def test_a_missing_picture_is_told_with_its_line(steps):
    text = listed(picture())
    refused(steps("check", text, None), text, "file =", '"pictures/read.png" is missing')


def test_a_changed_picture_is_told_with_the_hash_to_write(steps):
    text, other = listed(picture()), picture(colour="black")
    said = steps("check", text, other)
    refused(said, text, "sha256 =", f'write sha256 = "{hashlib.sha256(other).hexdigest()}"')


@pytest.mark.parametrize(
    "data",
    [b"<svg xmlns='http://www.w3.org/2000/svg'/>", picture("GIF"), picture()[:60]],
    ids=["svg", "gif", "cut off"],
)
def test_what_is_no_whole_picture_is_refused(steps, data):
    text = listed(data)
    refused(steps("check", text, data), text, "file =", "is no whole PNG or JPEG")


def test_a_picture_with_too_many_bytes_is_refused(steps):
    side = 900
    noise = Image.frombytes("RGB", (side, side), random.Random(1).randbytes(side * side * 3))
    made = io.BytesIO()
    noise.save(made, "PNG")
    assert len(made.getvalue()) > limits.STEP_PICTURE_BYTES
    text = listed(made.getvalue())
    refused(steps("check", text, made.getvalue()), text, "file =", "of at most 2,097,152 bytes")


def test_a_picture_with_too_many_pixels_is_refused(steps):
    data = picture(size=(4000, 3001))
    text = listed(data)
    refused(steps("check", text, data), text, "file =", "and 12,000,000 pixels")


@pytest.mark.parametrize(
    "file", ["../read.png", "/read.png", "a/../read.png", "pictures/read.svg", "a" * 252 + ".png"]
)
def test_a_name_that_leads_out_or_is_no_pictures_is_refused(steps, file):
    text = listed(picture(), file)
    said = steps("check", text, picture())
    assert said.exit_code == 2
    assert f"list.toml, line {line_of('file =', text)}," in said.output


def test_more_than_four_pictures_at_a_step_are_refused(steps):
    data = picture()
    text = listed(data)
    table = text[text.index("\n[[steps.pictures]]") : text.index("\n[[steps.readings]]")]
    said = steps("check", text.replace(table, table * 5, 1), data)
    assert said.exit_code == 2
    assert "expected at most 4 here, found 5" in said.output


def test_the_words_of_a_picture_are_shown(steps):
    data = picture()
    assert "Picture: A finger at the number plate." in steps("show", listed(data), data).output
