"""Who may use a desk that serves a team: names, roles and passwords (argon2id, RFC 9106)."""

import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Lock

import msgspec
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from msgspec import Struct

from evidence_app import limits
from evidence_app.errors import EvidenceError, turned
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare
from evidence_app.sentence import sentence, sentences_beside

_WORDS = sentences_beside(__file__)

READER, CLERK, SUPERVISOR = "reader", "clerk", "supervisor"
ROLES = (READER, CLERK, SUPERVISOR)
"""Each may do what those before it may."""

# NIST SP 800-63B, 3.1.1.2: at least 8 characters, no rule of composition.
LEAST_PASSWORD = 8
_FREE_TRIES = 3
_LONGEST_WAIT_S = 300.0


class Account(Struct, frozen=True):
    name: str
    role: str
    password: str


class Accounts:
    """The accounts in one JSON file. Raise EvidenceError. Checking a password takes a tenth of
    a second by design and should not be done on the thread that serves pages."""

    def __init__(self, path: Path, now: Callable[[], float] = time.monotonic) -> None:
        self.path = path
        self._now = now
        self._hasher = PasswordHasher()
        self._nobody = self._hasher.hash("nobody has this")
        self._lock = Lock()
        self._tries: dict[str, tuple[int, float]] = {}

    def all(self) -> list[Account]:
        what = sentence("the accounts cannot be read ({problem})")
        remedy = sentence("put the file right or move it away, then add the accounts again")
        damaged = turned((OSError, msgspec.MsgspecError), EvidenceError, what, str(self.path), remedy)
        with damaged, suppress(FileNotFoundError):
            return msgspec.json.decode(self.path.read_bytes(), type=list[Account])
        return []

    def put(self, name: str, role: str, password: str) -> None:
        """Add an account, or give the one of this name another role and password."""
        name = name.strip()
        if not name or not name.isprintable() or len(name) > 80:
            raise EvidenceError.worded(_WORDS["no-name"])
        if role not in ROLES:
            raise EvidenceError.none_of(ROLES, sentence("there is no role “{role}”", role=role))
        if not LEAST_PASSWORD <= len(password) <= limits.PASSWORD_LENGTH:
            raise EvidenceError.worded(
                _WORDS["password"], count=len(password), least=LEAST_PASSWORD, most=limits.PASSWORD_LENGTH
            )
        others = [each for each in self.all() if each.name != name]
        self._write([*others, Account(name, role, self._hasher.hash(password))])

    def remove(self, name: str) -> None:
        accounts = self.all()
        if all(each.name != name for each in accounts):
            raise EvidenceError(sentence("there is no account “{name}”", name=name), where=str(self.path))
        self._write([each for each in accounts if each.name != name])

    def sign_in(self, name: str, password: str) -> Account:
        """The account. Raises EvidenceError for a wrong name or password, which it does not tell
        apart, and while too many wrong tries of that name are not long enough ago."""
        wait = self._wait(name)
        if wait > 0:
            raise EvidenceError.worded(_WORDS["too-often"], seconds=round(wait + 0.5))
        account = next((each for each in self.all() if each.name == name), None)
        try:
            # The same work for a name that is not there, or the answer's time would tell.
            self._hasher.verify(
                account.password if account else self._nobody, password[: limits.PASSWORD_LENGTH]
            )
        except (VerificationError, InvalidHashError):
            account = None
        with self._lock:
            if account is not None:
                self._tries.pop(name, None)
                return account
            count = self._tries.get(name, (0, 0.0))[0] + 1
            if len(self._tries) > 10_000:
                self._tries.clear()
            self._tries[name] = (count, self._now())
        raise EvidenceError.worded(_WORDS["wrong"])

    def _wait(self, name: str) -> float:
        with self._lock:
            count, last = self._tries.get(name, (0, 0.0))
        if count < _FREE_TRIES:
            return 0.0
        return last + min(_LONGEST_WAIT_S, 2.0 ** (count - _FREE_TRIES + 1)) - self._now()

    def _write(self, accounts: list[Account]) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        data = msgspec.json.format(msgspec.json.encode(accounts))
        write_durably(self.path, data, error=EvidenceError)
        self.path.chmod(0o600)


prepare(list[Account])
