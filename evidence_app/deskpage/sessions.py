"""Who is signed in: random tokens in memory, which end by themselves."""

import hashlib
import secrets
import time
from collections.abc import Callable
from math import inf
from threading import Lock

from msgspec import Struct

IDLE_S = 30 * 60.0
LONGEST_S = 12 * 3600.0


class SignedIn(Struct):
    """``change`` is the token that every change must carry beside the cookie."""

    name: str
    role: str
    change: str
    began: float
    used: float


class Sessions:
    """Without ``idle_s`` and ``longest_s``: until the desk is closed."""

    def __init__(
        self, idle_s: float = inf, longest_s: float = inf, now: Callable[[], float] = time.monotonic
    ) -> None:
        self._idle_s, self._longest_s, self._now = idle_s, longest_s, now
        self._lock = Lock()
        # By the token's digest: what is in memory cannot be used as a cookie.
        self._open: dict[str, SignedIn] = {}

    def begin(self, name: str, role: str) -> str:
        """The token for the cookie."""
        token, now = secrets.token_urlsafe(32), self._now()
        with self._lock:
            self._open = {key: each for key, each in self._open.items() if self._lives(each)}
            self._open[_digest(token)] = SignedIn(name, role, secrets.token_urlsafe(32), now, now)
        return token

    def find(self, token: str) -> SignedIn | None:
        with self._lock:
            session = self._open.get(_digest(token))
            if session is None or not self._lives(session):
                self._open.pop(_digest(token), None)
                return None
            session.used = self._now()
            return session

    def end(self, token: str) -> None:
        with self._lock:
            self._open.pop(_digest(token), None)

    def _lives(self, session: SignedIn) -> bool:
        now = self._now()
        return now - session.used <= self._idle_s and now - session.began <= self._longest_s


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
