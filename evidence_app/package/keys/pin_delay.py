"""The growing wait after wrong PINs, kept in a small file beside the key.

The wait is counted on the suspend-aware monotonic clock. After a restart of
the machine it begins again from that start, so neither a restart nor a change
of the wall clock shortens it; and an attempt is written down before the PIN is
tried, so that ending the process in between does not win a free one.

What it cannot do: somebody who can write in the key's folder can delete the
file, and somebody who copies the key tries PINs elsewhere without any wait.
"""

from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from evidence_app.errors import SigningKeyError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare
from evidence_app.record.clock import Clock
from evidence_app.sentence import sentence

FREE_ATTEMPTS = 3
_FIRST_WAIT_S = 15
_LONGEST_WAIT_S = 3600


class _Attempts(Struct, frozen=True, forbid_unknown_fields=True):
    """Attempts since the last right PIN, and when the latest was made."""

    failed: Annotated[int, Meta(ge=0)]
    mono_us: int
    boot: str


class PinDelay:
    """The wait for one key file. The caller holds the key's lock."""

    def __init__(self, key_path: Path, clock: Clock) -> None:
        self._path = key_path.with_name(f"{key_path.name}.attempts.json")
        self._key_path = key_path
        self._clock = clock

    def begin_attempt(self) -> None:
        """Count an attempt before it is made.

        Raises SigningKeyError, saying how many seconds are left, while the wait
        runs; such a refused attempt does not count.
        """
        attempts = self._read()
        left = self._seconds_left(attempts)
        if left > 0:
            remedy = sentence(
                "wait {left} s and try again; restarting does not shorten the wait", left=left
            )
            what = sentence("wrong PINs were given too often")
            raise SigningKeyError(what, where=str(self._key_path), remedy=remedy)
        now = self._clock.now()
        self._write(_Attempts(attempts.failed + 1, now.mono_us, now.boot))

    def standing(self) -> tuple[int, int]:
        """How many wrong PINs in a row, and the seconds until the next one is tried."""
        attempts = self._read()
        return attempts.failed, self._seconds_left(attempts)

    def succeeded(self) -> None:
        """Forget the attempts: the PIN was right."""
        now = self._clock.now()
        self._write(_Attempts(0, now.mono_us, now.boot))

    def _seconds_left(self, attempts: _Attempts) -> int:
        now = self._clock.now()
        since_us = now.mono_us - attempts.mono_us if now.boot == attempts.boot else now.mono_us
        return max(0, -(-(wait_s(attempts.failed) * 1_000_000 - since_us) // 1_000_000))

    def _read(self) -> _Attempts:
        """No file means no attempts; a file that cannot be read, the longest wait
        since the machine started, because damaging it must not pay."""
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=_Attempts)
        except FileNotFoundError:
            return _Attempts(0, 0, "")
        except (OSError, msgspec.MsgspecError):
            return _Attempts(FREE_ATTEMPTS + 20, 0, "")

    def _write(self, attempts: _Attempts) -> None:
        write_durably(self._path, msgspec.json.encode(attempts), mode=0o600, error=SigningKeyError)


def wait_s(failed: int) -> int:
    """Seconds to wait after that many wrong PINs in a row: none for the first
    two, then 15 s, doubling up to an hour."""
    if failed < FREE_ATTEMPTS:
        return 0
    return min(_FIRST_WAIT_S * 2 ** min(failed - FREE_ATTEMPTS, 20), _LONGEST_WAIT_S)


prepare(_Attempts)
