"""Join the checker's sources into the one file that is shipped, ``assets/checker.html``.

    python assets/checker/build.py

The page's own script is named by its SHA-256 in the Content-Security-Policy, so
no other script can run in it, not even one that a package brings along.
"""

from __future__ import annotations

import base64
import hashlib
import sys
from pathlib import Path

SOURCES = Path(__file__).resolve().parent
SHIPPED = SOURCES.parent / "checker.html"

CORE = (
    "bytes", "sha256", "hashing", "canonical", "times", "names", "pack", "archive", "outcome",
    "bag", "ed25519", "seal", "journal", "originals", "exif", "media", "clocks", "shape",
    "vocabulary", "practice", "withdrawn", "decimal", "toml", "steplist", "listrules", "conduct",
    "conductagain", "conductmoves", "conductwork", "keylist", "handover", "token", "bracket", "record",
    "checking", "worker",
)  # fmt: skip
PAGE = ("dom", "report", "media", "result", "main")

POLICY = (
    "default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; "
    "img-src blob: data:; media-src blob: data:; frame-src blob:; worker-src blob:; "
    "base-uri 'none'; form-action 'none'"
)

_START = '\n(() => {\n"use strict";\n'
_END = """
if (typeof document === "undefined") serveAsWorker(self);
else startPage(document.currentScript.textContent);
})();
"""


def build() -> bytes:
    """The shipped page, made from the sources."""
    names = [f"core/{name}.js" for name in CORE] + [f"page/{name}.js" for name in PAGE]
    script = _START + "\n".join(_read(name) for name in names) + _END
    if "</script" in script.lower():
        raise ValueError("the script must not end its own element")
    page = _read("page/page.html").replace("@STYLE@", _read("page/page.css").rstrip("\n"))
    before, after = page.split("\n@SCRIPT@\n")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    before = before.replace("@POLICY@", POLICY.format(digest=digest))
    return (before + script + after.lstrip("\n")).encode()


def _read(name: str) -> str:
    return (SOURCES / name).read_text(encoding="utf-8")


if __name__ == "__main__":
    SHIPPED.write_bytes(build())
    print(f"{SHIPPED}: {SHIPPED.stat().st_size} bytes", file=sys.stderr)
