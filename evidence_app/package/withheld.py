"""What a disclosed copy leaves out and still names: the file ``fetch.txt`` of RFC 8493 2.2.3.

Each line gives a file's checksum as an RFC 6920 name, its size and its path. The list is signed
by nobody and needs no signature: checksum and path stand in the sealed manifest already, so it
can leave a file out, and can put no other in its place.
"""

import base64
import re
from collections.abc import Mapping

from evidence_app.package import layout

_MAY_BE_WITHHELD = (layout.PHOTOS, layout.MARKUP, layout.VOICE, layout.REPORT)
"""How the paths begin of what may be left out; the rest of a package is about it."""

NAMING = {layout.JOURNAL, layout.RECORD, layout.REPORT}
"""What names people and is withheld where roles stand in their place."""

_LINE = re.compile(r"ni:///sha-256;[\w-]{43} ([0-9]{1,12}) (\S+)", re.ASCII)


def write_fetch(sizes: Mapping[str, int], digests: Mapping[str, str]) -> bytes:
    """fetch.txt for the files of ``sizes`` (path to bytes), which are all in ``digests``."""
    lines = []
    for path in sorted(sizes):
        name = base64.urlsafe_b64encode(bytes.fromhex(digests[path])).decode("ascii").rstrip("=")
        lines.append(f"ni:///sha-256;{name} {sizes[path]} {path}\n")
    return "".join(lines).encode("ascii")


def read_fetch(data: bytes, digests: Mapping[str, str], with_roles: bool) -> dict[str, int]:
    """Path to bytes of each file that is left out. Raises ValueError unless ``data`` is what
    ``write_fetch`` writes for the report, which shows them, and other files that may be left
    out, all of the manifest ``digests``; ``with_roles`` for all that name people, too."""
    parsed = map(_LINE.fullmatch, data.decode("ascii").splitlines())
    found = {line[2]: int(line[1]) for line in parsed if line}
    always = NAMING if with_roles else {layout.REPORT}
    allowed = {path for path in digests if path.startswith(_MAY_BE_WITHHELD)} | always
    if not always <= found.keys() <= allowed or write_fetch(found, digests) != data:
        raise ValueError("not in order")
    return found
