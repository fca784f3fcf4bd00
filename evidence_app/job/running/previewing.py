"""Previews made in the background as photos come in, so that sealing need not decode them.

A preview that could not be made or kept is no loss: sealing makes it then.
"""

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

from evidence_app.errors import EvidenceError
from evidence_app.photo.preview import make_preview, maker
from evidence_app.record.record import Record


class Previewing:
    """One thread that makes previews in the order in which they are asked for."""

    def __init__(self, record: Record) -> None:
        self._record = record
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="preview")

    def soon(self, sha256: str, data: bytes, kind: str) -> None:
        """Make and keep the preview of an original; ``kind`` as in photo.preview.KINDS."""
        self._thread.submit(self._make, sha256, data, kind)

    def finish(self) -> None:
        """Wait for what was asked for; nothing can be asked for afterwards."""
        self._thread.shutdown()

    def _make(self, sha256: str, data: bytes, kind: str) -> None:
        with suppress(EvidenceError):
            self._record.keep_derived(sha256, maker(), make_preview(data, kind).jpeg)
