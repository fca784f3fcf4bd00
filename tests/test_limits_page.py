"""assets/trust.md tells every limit of the code as it is."""

from __future__ import annotations

import re
from pathlib import Path

from evidence_app import limits

PAGE = (Path(__file__).resolve().parents[1] / "assets/trust.md").read_text("utf-8")
ROWS = re.findall(r"^\| [^|]+ \| ([0-9,]+)[^|]* \| `([A-Z_]+)` \|$", PAGE, re.M)


def test_every_limit_is_told_as_it_is():
    told = {name: int(limit.replace(",", "")) for limit, name in ROWS}
    assert told == {name: value for name, value in vars(limits).items() if name.isupper()}
