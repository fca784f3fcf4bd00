"""A small valid step list, from which each test makes one bad one."""

from __future__ import annotations

from evidence_app.steplist.load import loads
from evidence_app.steplist.model import StepList

VALID = """\
format = 1
id = "lamp-lens"
version = "1.0"
title = "Change the lens of a lamp"
defers-to = "Local codes come first."
stop-by-technician = "left-to-supervisor"

[device]
family = "Lamps"
model = "L1"

[[device.variants]]
id = "short"
title = "Short lamp"

[[device.variants]]
id = "long"
title = "Long lamp"

[[cautions]]
id = "glass"
signal = "WARNING"
hazard = "Glass could break and cut."
avoid = "Wear gloves."

[[tools]]
id = "gauge"
name = "Feeler gauge"

[[consumables]]
id = "wipes"
name = "Wipes"

[[new-parts]]
id = "lens"
name = "Lens"

[[steps]]
id = "identify"
title = "Identify"
instruction = "Read the number."
picture = "identify.png"

[[steps.readings]]
id = "serial"
name = "Serial number"
text = true
scan = true

[[steps]]
id = "look"
title = "Look"
instruction = "Look into the seat."
cautions = ["glass"]

[steps.checkpoint]
question = "Is the seat clean?"

[[steps.checkpoint.photos]]
id = "seat-clean"
framing = "The seat"
scale-card = true

[steps.checkpoint.finding]
clear = { go-on = true }
not-clear = { stop = "seat-dirty" }
cannot-tell = { redo-from = "look", redo-limit = 2, then-stop = "seat-dirty" }

[[steps]]
id = "extend"
title = "Extend"
instruction = "Pull the tube out."
variants = ["long"]

[steps.checkpoint]
question = "Is the tube straight?"

[[steps.checkpoint.photos]]
id = "tube"
framing = "The tube"

[steps.checkpoint.finding]
clear = { go-on = true }
not-clear = { redo-from = "extend" }
cannot-tell = { redo-from = "extend" }

[[steps]]
id = "press"
title = "Press"
instruction = "Press the lens home."

[steps.hold]
applied = "Thumb"
at-least-s = 10
at-most-s = 60

[[steps.readings]]
id = "leaf"
name = "Thickest leaf"
unit = "mm"
at-least = 0.0
at-most = 0.25
decimals = 2

[steps.checkpoint]
question = "Is the lens even?"

[[steps.checkpoint.photos]]
id = "seam"
framing = "The seam"
scale-card = true
measurement = { kind = "gap", unit = "mm", at-least = 0.0, at-most = 0.2 }

[[steps.checkpoint.photos]]
id = "seat-after"
framing = "The seat"
scale-card = true

[steps.checkpoint.photos.measurement]
kind = "residue"
reference = "seat-clean"

[steps.checkpoint.finding]
clear = { go-on = true }
not-clear = { redo-from = "look" }
cannot-tell = { go-on = true }

[[stop-rules]]
id = "seat-dirty"
reason = "The seat is dirty."
disposition = "Exchange the lamp."
prohibitions = ["Do not scrape."]

[[stop-rules.photos]]
id = "dirt"
framing = "The dirt"

[[stop-rules]]
id = "left-to-supervisor"
reason = "The technician stops."
disposition = "Hand it over."
names = ["supervisor", "technician"]
"""


def changed(old: str, new: str, text: str = VALID) -> str:
    """``text`` with ``old``, which stands in it once, replaced by ``new``."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the text"
    return text.replace(old, new)


def read(text: str) -> StepList:
    return loads(text.encode(), "lamp.toml")


def line_of(part: str, text: str) -> int:
    """The number of the one line of ``text`` that holds ``part``."""
    (number,) = (n for n, line in enumerate(text.splitlines(), 1) if part in line)
    return number
