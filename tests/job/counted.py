"""The bench's step list with things that are counted."""

from __future__ import annotations

from tests.job.bench import STEP_LIST

THINGS = """\
[[counted]]
id = "screws"
what = "Screws of the case"
kind = "M2 × 4"
missing = "piece-gone"

[[counted]]
id = "rings"
what = "Rings of the spacers"
variants = ["radio"]

[[counted]]
id = "rollers"
what = "Rollers"

[[stop-rules]]
id = "piece-gone"
reason = "A piece is missing."
disposition = "Open it no further."

"""
COUNTS = {
    "Take out the cell and open the case.": '{ thing = "screws", out = 4 }',
    "Fit the antenna spacers.": '{ thing = "rings", in = 2 }',
    "Press the strip on.": '{ thing = "rollers", in = 1 }',
    "Close the case.": '{ thing = "rollers", out = 1 }, { thing = "screws", in = 4 }',
}


def counted_list() -> bytes:
    text = STEP_LIST.decode()
    for instruction, counts in COUNTS.items():
        line = f'instruction = "{instruction}"\n'
        assert line in text
        text = text.replace(line, f"{line}counts = [{counts}]\n")
    return (text + THINGS).encode()
