"""The BagIt 1.0 tag files (RFC 8493), as bytes.

Pure functions: what goes into them is decided by the sealing. Lines end with
LF, text is UTF-8, and manifest lines are sorted by path, so the same payload
always gives the same bytes and ``sha256sum -c`` reads them.
"""

import re
from collections.abc import Iterable, Mapping
from urllib.parse import unquote

from evidence_app.record import times

BAGIT_TXT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def bag_info(
    *,
    closed_at: str,
    identifier: str,
    payload_sizes: Iterable[int],
    software: str,
    organization: str | None = None,
) -> bytes:
    """bag-info.txt (RFC 8493 2.2.2).

    ``closed_at`` is the RFC 3339 time of the job's last event; its date is the
    Bagging-Date, because sealing reads no clock. ``payload_sizes`` are octets
    of each payload file.
    """
    sizes = list(payload_sizes)
    lines = [
        ("Bagging-Date", times.parse(closed_at).date().isoformat()),
        ("External-Identifier", identifier),
        ("Payload-Oxum", f"{sum(sizes)}.{len(sizes)}"),
        ("Bag-Software-Agent", software),
    ]
    if organization:
        lines.append(("Source-Organization", organization))
    return "".join(f"{label}: {' '.join(value.split())}\n" for label, value in lines).encode()


def manifest(digests: Mapping[str, str]) -> bytes:
    """A manifest: path inside the bag to SHA-256 as 64 hex digits."""
    lines = (f"{digests[path]}  {encode_path(path)}\n" for path in sorted(digests))
    return "".join(lines).encode()


def encode_path(path: str) -> str:
    """Percent-encode CR, LF and ``%``, and nothing else (RFC 8493 2.1.3)."""
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def decode_path(text: str) -> str:
    """The path that a manifest line means; the inverse of :func:`encode_path`.

    Any other percent sequence stands for itself. Hex digits of either case are accepted.
    """
    return re.sub("%(?:0[AaDd]|25)", lambda code: unquote(code[0]), text)
