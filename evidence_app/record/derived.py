"""What was made from originals and kept to save making it again.

Nothing in here is evidence or is needed, pictures of the step list included: whatever is missing, was made by
another maker or was damaged counts as not there. So nothing is forced to disk;
a file that a power cut left half written is one that is damaged.

A file holds the SHA-256 (64 hex digits and a line break) of the original's
hash, the maker's name and the content, and then the content.
"""

import hashlib
from pathlib import Path

from evidence_app.record.durable import storage_trouble
from evidence_app.system_calls import sync_file, sync_folder

_DIGITS = 64


class Derived:
    """The folder ``derived/``: at most one file for each original."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, original: str, maker: str, content: bytes, safe: bool = False) -> None:
        """``content``, which ``maker`` made from the original with that hash; forced to disk only
        when it is to be ``safe``.

        Takes the place of what was kept for it. Raises StorageFull, RecordError.
        """
        with storage_trouble(self._folder):
            self._folder.mkdir(exist_ok=True)
            file = self._folder / original
            file.write_bytes(_digest(original, maker, content) + b"\n" + content)
            if safe:
                with file.open("r+b") as written:
                    sync_file(written.fileno())
                sync_folder(self._folder)

    def find(self, original: str, maker: str) -> bytes | None:
        """What this maker made from that original, None when it must be made (again)."""
        try:
            data = (self._folder / original).read_bytes()
        except OSError:
            return None
        content = data[_DIGITS + 1 :]
        whole = data[: _DIGITS + 1] == _digest(original, maker, content) + b"\n"
        return content if whole else None


def _digest(original: str, maker: str, content: bytes) -> bytes:
    """The maker's name has no line break, so no two triples run together to the same bytes."""
    found = hashlib.sha256(f"{original}\n{maker}\n".encode())
    found.update(content)
    return found.hexdigest().encode("ascii")
