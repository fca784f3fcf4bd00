"""Every reader of what others send, and damages to feed it with.

A damage is a list of edits on a sound input, so that a corpus of them stays small and readable.
Whatever comes, a reader answers or raises an EvidenceError; verify answers with a check that
fails, never with one that could not be finished.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from hypothesis import strategies as st

from evidence_app.errors import EvidenceError
from evidence_app.package.keys.keylist import DeviceKey, open_key_list, write_key_list
from evidence_app.package.keys.signing_key import read_public_key
from evidence_app.package.keys.ticket import check_ticket, make_ticket
from evidence_app.package.keys.timestamp import read_token
from evidence_app.package.verify.check import verify
from evidence_app.steplist.load import loads
from tests.hostile.bag import INSIDER, Bag
from tests.making import DEPOT, STEP_LIST, make_key, make_package

CORPUS = Path(__file__).with_name("corpus.json")
KEY = make_key(9)
PIECES = [
    b"", b"\0", b"\xff", b"\n", b'"', b"'", b"[", b"]", b"{", b"}", b".", b",", b"=", b"-", b"1e999",
    b"NaN", b"null", b"9" * 40, b"-0.0", b"\\u0000", b"\\ud800", "\u202e".encode(), b"\xf0\x9f",
    b"[" * 200, b"a." * 200, b"#" * 2000, b"../", b"\x30\x84\xff\xff\xff\xff", b"1970-01-01T00:00:00Z",
]  # fmt: skip

Edit = tuple[int, int, int]
"""Where in thousandths of the length, how many bytes go, which of PIECES comes."""

edits = st.lists(
    st.tuples(st.integers(0, 1000), st.integers(0, 40), st.integers(0, len(PIECES) - 1)),
    min_size=1,
    max_size=6,
)


def damaged(data: bytes, damage: list[Edit]) -> bytes:
    for where, gone, piece in damage:
        at = where * len(data) // 1000
        data = data[:at] + PIECES[piece] + data[at + gone :]
    return data


def read_step_list(damage: list[Edit]) -> None:
    loads(damaged(STEP_LIST, damage), "fuzz")


def read_key_list(damage: list[Edit]) -> None:
    """Signed as it is, so that the reading goes on behind the signature."""
    start, end = (datetime(year, 1, 1, tzinfo=UTC) for year in (2026, 2027))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "keys.toml"
        write_key_list(path, DEPOT, start, [DeviceKey("0" * 64, "Lind", "tablet", start, end)], KEY)
        path.write_bytes(damaged(path.read_bytes(), damage))
        path.with_name(f"{path.name}.sig").write_bytes(KEY.sign(path.read_bytes()))
        open_key_list(path)


def read_ticket(damage: list[Edit]) -> None:
    data = damaged(make_ticket(KEY, DEPOT, "K-1")[0], damage)
    check_ticket(data, KEY.sign(data), KEY.public, "fuzz")


def read_key(damage: list[Edit]) -> None:
    read_public_key(damaged(KEY.public_pem, damage), "fuzz")


def read_time_token(damage: list[Edit]) -> None:
    read_token(damaged(_token(), damage), b"0" * 64)


def read_package(damage: list[Edit]) -> None:
    """The bytes of the ZIP file damaged on the way."""
    _judge(damaged(_sound().zip(), damage))


def read_own_package(damage: list[Edit]) -> None:
    """One file of the payload damaged by somebody who lists and seals everything anew."""
    bag = _sound()
    names = ["data/journal.jsonl", "data/record.json", "data/report.html", "data/step-list.toml",
             bag.first("data/photos/"), bag.first("data/voice/"), bag.first("data/markup/"),
             "bag-info.txt", "seal.json"]  # fmt: skip
    name = names[sum(where for where, *_ in damage) % len(names)]
    bag.files[name] = damaged(bag.files[name], damage)
    if name.startswith("data/"):
        bag.list_payload()
    bag.list_tags()
    _judge(bag.sign(bag.files["seal.json"]).zip())


READERS: dict[str, Callable[[list[Edit]], None]] = {
    "step list": read_step_list,
    "key list": read_key_list,
    "ticket": read_ticket,
    "public key": read_key,
    "time token": read_time_token,
    "package": read_package,
    "package sealed anew": read_own_package,
}


def survives(reader: str, damage: list[Edit]) -> bool:
    """Whether the input was refused; anything but an EvidenceError leaves this as it came."""
    try:
        READERS[reader](damage)
    except EvidenceError as error:
        assert error.sentence()
        return True
    return False


def corpus() -> list[tuple[str, list[Edit]]]:
    return [(name, damage) for name, damages in json.loads(CORPUS.read_text()).items()
            for damage in damages]  # fmt: skip


def _judge(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "package.zip"
        path.write_bytes(data)
        result = verify(path)
    unforeseen = [c for c in result.checks if "could not be finished" in str(c.sentence)]
    assert not unforeseen, str(unforeseen)


def _sound() -> Bag:
    bag = Bag.read(_package())
    bag.key = INSIDER
    return bag


@cache
def _package() -> Path:
    return make_package(Path(tempfile.mkdtemp(prefix="fuzz-"))).path


@cache
def _token() -> bytes:
    return (Path(__file__).with_name("token.tsr")).read_bytes()
