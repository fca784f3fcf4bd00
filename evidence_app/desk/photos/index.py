"""An index of photo hashes that answers for a million photos in milliseconds.

Two of Faiss's flat binary indexes, of whole photos and of their middles: 32 bytes of
hash and 8 bytes of number for each, and an exact answer. Both are asked at once. Its
hashed indexes answer sooner, but need 230 to 890 bytes a photo at a million, measured.
The file is only a copy of what the register holds: when it is missing, damaged or of
another register it is made again.
"""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor

import msgspec
import numpy as np
from msgspec import Struct

from evidence_app.desk.photos.hash import BITS
from evidence_app.desk.register import Register
from evidence_app.errors import RegisterError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare

_NEAREST = 8
_MAGIC = b"evidence photo index 2\n"
# A tail shorter than this is read from the register faster than the file is written.
_LEAST_TAIL = 2000
_TAIL_SHARE = 0.05


class Near(Struct, frozen=True):
    """A photo of the register near the one asked for; ``turn`` is its place in TURNS.
    ``middle``: not the whole photos are near, but a middle of one and that of the other."""

    photo: int
    distance: int
    turn: int
    middle: bool = False


class _Head(Struct, frozen=True):
    """``last`` is the number of the last photo of the register that is in the index; ``ends``
    the SHA-256 of the first photo and of that one, by which an index knows its register;
    ``whole_bytes`` how much of the body is the index of whole photos."""

    last: int
    ends: tuple[str, str]
    body_sha256: str
    whole_bytes: int


class PhotoIndex:
    """The hashes of a register's photos. ``last`` is the last photo that it knows of."""

    def __init__(self, register: Register) -> None:
        import faiss

        self._faiss = faiss
        self._beside = ThreadPoolExecutor(1, thread_name_prefix="photo-index")
        self._register = register
        self.path = register.path.with_name(f"{register.path.stem}.photo-index")
        self.last = 0
        self._saved = 0
        self._whole, self._middles = self._empty(), self._empty()

    @classmethod
    def open(cls, register: Register) -> PhotoIndex:
        """The index as far as it is on disk, then up to date with the register."""
        index = cls(register)
        index._load()
        index.catch_up()
        return index

    def __len__(self) -> int:
        return self._whole.ntotal

    def near(
        self, turned: np.ndarray, asked: np.ndarray, within: int, middle_within: int, after: int = 0
    ) -> list[Near]:
        """The nearest photos to one picture, by the eight hashes ``turned`` (8, 32) of the whole
        and the hashes ``asked`` (N, 32) of its middles, nearest first.

        ``within`` bits and ``middle_within`` for middles, at most eight for each hash, each
        photo once; ``after`` leaves out the photos up to that number.
        """
        # Half of all questions each: the answer comes when the longer part is done.
        half = (len(turned) + len(asked)) // 2
        beside = self._beside.submit(lambda: self._search(self._middles, asked[-half:]))
        best: dict[int, Near] = {}
        by_middle: dict[int, Near] = {}
        for turn, photo, distance in self._search(self._whole, turned):
            _keep_nearer(best, Near(photo, distance, turn), within, after)
        for _, photo, distance in (*self._search(self._middles, asked[:-half]), *beside.result()):
            _keep_nearer(by_middle, Near(photo, distance, 0, middle=True), middle_within, after)
        # What is near as a whole needs no middle to be found.
        best = by_middle | best
        return sorted(best.values(), key=lambda near: (near.distance, near.photo))

    def _search(self, index, hashes: np.ndarray) -> list[tuple[int, int, int]]:
        """(place of the hash, number of the photo, distance) of the nearest to each."""
        if not index.ntotal or not len(hashes):
            return []
        # For this thread, whichever it is. One question is too short to be shared out: with two
        # threads, one of them busy elsewhere, the slowest answers took ten times as long.
        self._faiss.omp_set_num_threads(1)
        distances, numbers = index.search(np.ascontiguousarray(hashes), min(_NEAREST, index.ntotal))
        return [
            (place, photo, distance)
            for place, row in enumerate(zip(distances.tolist(), numbers.tolist(), strict=True))
            for distance, photo in zip(*row, strict=True)
        ]

    def add(self, numbers: np.ndarray, bits: np.ndarray, middles: bool = False) -> None:
        """``numbers`` (N,) int64 and ``bits`` (N, 32) uint8, of whole photos or of middles."""
        index = self._middles if middles else self._whole
        index.add_with_ids(np.ascontiguousarray(bits), np.ascontiguousarray(numbers))

    def catch_up(self) -> int:
        """Take in the photos that were registered since; how many. Saves now and then."""
        with self._register.lookup() as database:
            rows = database.conn.execute(
                "SELECT id, photos.pdq, middles.pdq FROM photos LEFT JOIN middles ON photo = id "
                "WHERE id > ? ORDER BY id",
                [self.last],
            ).fetchall()
        before = len(self)
        for middles in (False, True):
            told = [(row[0], row[1 + middles]) for row in rows if row[1 + middles] is not None]
            if told:
                numbers, hashes = zip(*told, strict=True)
                bits = np.frombuffer(b"".join(hashes), np.uint8).reshape(-1, BITS // 8)
                self.add(np.array(numbers, np.int64), bits, middles)
        if rows:
            self.last = rows[-1][0]
        if self.last - self._saved > max(_LEAST_TAIL, _TAIL_SHARE * len(self)):
            self.save()
        return len(self) - before

    def rebuild(self) -> int:
        """Make it again from the register alone and save it; how many photos it has."""
        self._whole, self._middles = self._empty(), self._empty()
        self.last = 0
        self.catch_up()
        self.save()
        return len(self)

    def save(self) -> None:
        whole, middles = (
            self._faiss.serialize_index_binary(index).tobytes()
            for index in (self._whole, self._middles)
        )
        body = whole + middles
        ends = self._ends(self.last)
        head = _Head(self.last, ends, hashlib.sha256(body).hexdigest(), len(whole))
        write_durably(self.path, _MAGIC + msgspec.json.encode(head) + b"\n" + body, error=RegisterError)
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
        bytes_ = np.frombuffer(body, np.uint8)
        self._whole = self._faiss.deserialize_index_binary(bytes_[: head.whole_bytes])
        self._middles = self._faiss.deserialize_index_binary(bytes_[head.whole_bytes :])
        self.last = self._saved = head.last

    def _ends(self, last: int) -> tuple[str, str]:
        query = "SELECT sha256 FROM photos WHERE id IN ((SELECT min(id) FROM photos), ?) ORDER BY id"
        with self._register.lookup() as database:
            found = [row[0] for row in database.conn.execute(query, [last])] or [""]
        return found[0], found[-1]

    def _empty(self):
        return self._faiss.IndexBinaryIDMap(self._faiss.IndexBinaryFlat(BITS))


def _keep_nearer(best: dict[int, Near], near: Near, within: int, after: int) -> None:
    if near.photo <= after or near.distance > within:
        return
    if near.photo not in best or near.distance < best[near.photo].distance:
        best[near.photo] = near


prepare(_Head)
