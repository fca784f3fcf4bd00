"""The pictures of the sample step lists, drawn again, and their hashes written into the lists:

    python assets/drawings/draw.py

A step of a list gets the picture that its id, or PICTURE_OF for that list, names.
"""

import hashlib
import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from scenes import SCENES, SHOWS
from sheet import Sheet

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sessions"
OLD = re.compile(r"\n\[\[steps\.pictures\]\]\n(?:[a-z0-9]+ = .*\n)+")
STEP = re.compile(r"(?m)^\[\[steps\]\]\nid = \"([a-z0-9-]+)\"\n(?:[^\n\[].*\n)*")
CELLULAR = ("identify", "remove-fasteners", "cut-bond", "fit-fasteners", "function-check")
PICTURE_OF = {
    "ossmere-h7-window-rebond": {},
    "ossmere-h7-window-rebond-cellular": {step: f"{step}-cellular" for step in CELLULAR},
    "ossmere-h7-bail-stand-exchange": {
        "identify": "identify-stand",
        "isolate-cell": "take-cell-out",
        "inspect-slots": "look-into-slots",
        "photograph-linings": "photograph-slots",
        "inspect-linings": "compare-slots",
        "refit": "refit-stand-and-cell",
    },
}


def main() -> None:
    folder = SAMPLES / "pictures"
    folder.mkdir(exist_ok=True)
    digests = {}
    for name, scene in SCENES.items():
        sheet = Sheet()
        scene(sheet)
        path = folder / f"{name}.png"
        sheet.save(path)
        digests[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    for ident, named in PICTURE_OF.items():
        path = SAMPLES / f"{ident}.toml"
        text = OLD.sub("", path.read_text("utf-8"))
        path.write_text(
            STEP.sub(lambda step, of=named: step[0] + _table(of, step[1], digests), text), "utf-8"
        )


def _table(named: dict[str, str], step: str, digests: dict[str, str]) -> str:
    name = named.get(step, step)
    if name not in digests:
        return ""
    return (
        f'\n[[steps.pictures]]\nfile = "pictures/{name}.png"\n'
        f'sha256 = "{digests[name]}"\nshows = "{SHOWS[name]}"\n'
    )


if __name__ == "__main__":
    main()
