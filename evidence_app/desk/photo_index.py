"""An index of photo hashes that answers for a million photos in milliseconds.

Faiss's flat binary index: 32 bytes of hash and 8 bytes of number for each photo,
and an exact answer. Its hashed indexes answer sooner, but need 230 to 890 bytes
a photo at a million, measured. The file is only a copy of what the register
holds: when it is missing, damaged or of another register it is made again.
"""

from __future__ import annotations

import hashlib

import msgspec
import numpy as np
from msgspec import Struct

from evidence_app.desk.photo_hash import BITS
from evidence_app.desk.register import Register
from evidence_app.errors import RegisterError
from evidence_app.package.durable import write_durably

_NEAREST = 8
_MAGIC = b"evidence photo index 1\n"
# A tail shorter than this is read from the register faster than the file is written.
_LEAST_TAIL = 2000
_TAIL_SHARE = 0.05


class Near(Struct, frozen=True):
    """A photo of the register near the one asked for; ``turn`` is its place in TURNS."""

    photo: int
    distance: int
    turn: int


class _Head(Struct, frozen=True):
    """``last`` is the number of the last photo of the register that is in the index; ``ends``
    the SHA-256 of the first photo and of that one, by which an index knows its register."""

    last: int
    ends: tuple[str, str]
    body_sha256: str


class PhotoIndex:
    """The hashes of a register's photos. ``last`` is the last photo that it knows of."""

    def __init__(self, register: Register) -> None:
        import faiss

        # One question is too short to be shared out: with two threads, one of them busy
        # elsewhere, the slowest answers took ten times as long.
        faiss.omp_set_num_threads(1)
        self._faiss = faiss
        self._register = register
        self.path = register.path.with_name(f"{register.path.stem}.photo-index")
        self.last = 0
        self._saved = 0
        self._index = self._empty()

    @classmethod
    def open(cls, register: Register) -> PhotoIndex:
        """The index as far as it is on disk, then up to date with the register."""
        index = cls(register)
        index._load()
        index.catch_up()
        return index

    def __len__(self) -> int:
        return self._index.ntotal

    def near(self, turned: np.ndarray, within: int, after: int = 0) -> list[Near]:
        """The nearest photos to eight hashes (8, 32) of one picture turned, nearest first.

        ``within`` bits, at most eight for each turn, each photo once; ``after`` leaves
        out the photos up to that number.
        """
        if not len(self):
            return []
        distances, numbers = self._index.search(np.ascontiguousarray(turned), _NEAREST)
        best: dict[int, Near] = {}
        for turn, (row, ids) in enumerate(zip(distances, numbers, strict=True)):
            for distance, photo in zip(row.tolist(), ids.tolist(), strict=True):
                if photo <= after or distance > within:
                    continue
                if photo not in best or distance < best[photo].distance:
                    best[photo] = Near(photo, distance, turn)
        return sorted(best.values(), key=lambda near: (near.distance, near.photo))

    def add(self, numbers: np.ndarray, bits: np.ndarray) -> None:
        """``numbers`` (N,) int64 and ``bits`` (N, 32) uint8."""
        self._index.add_with_ids(np.ascontiguousarray(bits), np.ascontiguousarray(numbers))

    def catch_up(self) -> int:
        """Take in the photos that were registered since; how many. Saves now and then."""
        with self._register.lookup() as database:
            rows = database.conn.execute(
                "SELECT id, pdq FROM photos WHERE id > ? ORDER BY id", [self.last]
            ).fetchall()
        told = [(number, pdq) for number, pdq in rows if pdq is not None]
        if told:
            self.add(
                np.array([number for number, _ in told], np.int64),
                np.frombuffer(b"".join(pdq for _, pdq in told), np.uint8).reshape(-1, BITS // 8),
            )
        if rows:
            self.last = rows[-1][0]
        if self.last - self._saved > max(_LEAST_TAIL, _TAIL_SHARE * len(self)):
            self.save()
        return len(told)

    def rebuild(self) -> int:
        """Make it again from the register alone and save it; how many photos it has."""
        self._index = self._empty()
        self.last = 0
        self.catch_up()
        self.save()
        return len(self)

    def save(self) -> None:
        body = self._faiss.serialize_index_binary(self._index).tobytes()
        head = _Head(self.last, self._ends(self.last), hashlib.sha256(body).hexdigest())
        write_durably(
            self.path, _MAGIC + msgspec.json.encode(head) + b"\n" + body, error=RegisterError
        )
        self._saved = self.last

    def _load(self) -> None:
        """Take the file over; leaves the index empty when it does not belong here."""
        try:
            with self.path.open("rb") as file:
                if file.readline() != _MAGIC:
                    return
                head = msgspec.json.decode(file.readline(), type=_Head)
                body = file.read()
        except (OSError, msgspec.MsgspecError):
            return
        # The library reads its format without looking twice; only our own bytes reach it.
        if hashlib.sha256(body).hexdigest() != head.body_sha256:
            return
        if head.ends != self._ends(head.last):
            return
        self._index = self._faiss.deserialize_index_binary(np.frombuffer(body, np.uint8))
        self.last = self._saved = head.last

    def _ends(self, last: int) -> tuple[str, str]:
        query = (
            "SELECT sha256 FROM photos WHERE id IN ((SELECT min(id) FROM photos), ?) ORDER BY id"
        )
        with self._register.lookup() as database:
            found = [row[0] for row in database.conn.execute(query, [last])] or [""]
        return found[0], found[-1]

    def _empty(self):
        return self._faiss.IndexBinaryIDMap(self._faiss.IndexBinaryFlat(BITS))
