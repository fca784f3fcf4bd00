"""``evidence-app tablet``: the technician's app on a touch screen."""

import re
from typing import Any

import click

from evidence_app.commands.shared.paths import FOLDER
from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence


@click.command()
@click.option(
    "--practice", is_flag=True, help="Practice: rendered scenes before the camera; never evidence."
)
@click.option("--size", default="1280x800", show_default=True, help="Window size in pixels, WxH.")
@click.option("--text-size", type=click.IntRange(100, 200), help="Text size in percent.")
@click.option("--language", type=click.Choice(["en", "de"]), help="Language of the screens.")
@click.option("--camera", metavar="SPEC", help="camera:0, http://…, folder:PATH or file:PATH.")
@click.option("--microphone", metavar="SPEC", help="microphone, microphone:NAME or file:PATH.")
@click.option("--screenshots", type=FOLDER, help="Write a picture of each screen into this folder.")
def tablet(size: str, practice: bool, **chosen: Any) -> None:
    """Run the technician's app.

    What was set in the app is kept; the options here hold for this run only.
    """
    from evidence_app.tablet.run import run

    run(window_size(size), practice=practice or None, **chosen)


def window_size(text: str) -> tuple[int, int]:
    """Width and height in pixels. Raises EvidenceError for another text."""
    found = re.fullmatch(r"([0-9]{3,5})x([0-9]{3,5})", text)
    if not found:
        raise EvidenceError(
            sentence("“{text}” is not a window size", text=text),
            where="--size",
            remedy=sentence("write it like 1280x800"),
        )
    return int(found[1]), int(found[2])
