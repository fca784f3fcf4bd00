"""An index of the photos' features: which earlier photos share what few others share.

All honest photos of a checkpoint have most features in common. So a match counts by how much
nearer it is than that feature's eleventh neighbour: what everybody has counts nothing. Of the
photos with the most votes those are the nearest on which the features lie best.

Faiss's binary inverted lists; a photo takes about 5,800 bytes in memory. The file is only a copy
of what the register holds: when it is missing, damaged or of another register it is made again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import msgspec
import numpy as np
from msgspec import Struct

from evidence_app.desk.photos.features import BITS, ROW, Features
from evidence_app.desk.photos.placing import lying_on
from evidence_app.desk.register import COPIES, Register
from evidence_app.errors import RegisterError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare

_NEIGHBOURS = 11
_LOOKED_INTO = 64  # photos with the most votes, before places are asked
_MOST_BITS = 40  # bits in which a match may differ
_MAGIC = b"evidence photo index 3\n"
# A tail shorter than this is read from the register faster than the file is written.
_LEAST_TAIL, _TAIL_SHARE = 2000, 0.05
# Below so many features every one is compared; above, lists of some hundred each are looked into,
# found by a graph (Malkov and Yashunin 2016): each other way their number costs on every feature.
_FLAT, _LISTED, _PROBES, _LINKS = 150_000, 300, 16, 16
_PER_PHOTO = 256


class Near(Struct, frozen=True):
    """An earlier photo: ``votes`` how many features lie on each other, the nearer the more."""

    photo: int
    votes: float
    mirrored: bool


class _Head(Struct, frozen=True):
    """``last`` is the number of the last photo of the register that is in the index; ``ends``
    the SHA-256 of the first photo and of that one, by which an index knows its register."""

    last: int
    ends: tuple[str, str]
    body_sha256: str


class PhotoIndex:
    """The features of a register's photos. ``last`` is the last photo that it knows of.

    A photo that was found to be a copy is left out: its first appearance stands for it, or a
    picture sent in often would be taken for one that everybody has.
    """

    def __init__(self, register: Register) -> None:
        import faiss

        self._faiss = faiss
        self._register = register
        self.path = register.path.with_name(f"{register.path.stem}.photo-index")
        self.last = self._saved = 0
        self._lists = self._empty(0)

    @classmethod
    def open(cls, register: Register) -> PhotoIndex:
        """The index as far as it is on disk, then up to date with the register."""
        index = cls(register)
        index._load()
        index.catch_up()
        return index

    def __len__(self) -> int:
        """How many features it has."""
        return self._lists.ntotal

    def near(self, features: Features, after: int = 0, most: int = 3) -> list[Near]:
        """The earlier photos (numbers above ``after``) that this one lies on best, the best first:
        in turn by a similarity and by a homography."""
        asked = {False: features.rows, True: features.mirrored}
        voted = [(-votes, photo, mirrored) for mirrored, rows in asked.items()
                 for photo, votes in self._voted(rows, after).items()]  # fmt: skip
        voted = sorted(voted)[:_LOOKED_INTO]
        places = self.places([photo for _, photo, _ in voted])
        seen: dict[int, tuple[float, float, bool]] = {}
        for _, photo, mirrored in voted:
            lies = (*lying_on(asked[mirrored], places[photo]), mirrored)
            seen[photo] = max(seen.get(photo, lies), lies)
        ranked = (sorted(seen, key=lambda photo: (-seen[photo][way], photo)) for way in (0, 1))
        best = dict.fromkeys(photo for pair in zip(*ranked, strict=True) for photo in pair)
        found = [Near(photo, max(seen[photo][:2]), seen[photo][2]) for photo in best]
        return [near for near in found if near.votes][:most]

    def add(self, numbers: Sequence[int], rows: Sequence[np.ndarray]) -> None:
        """``rows`` are the features of each photo of ``numbers``."""
        if not numbers:
            return
        bits = np.ascontiguousarray(np.concatenate([each["bits"] for each in rows]))
        ids = np.concatenate([
            number * _PER_PHOTO + np.arange(len(each)) for number, each in zip(numbers, rows, strict=True)
        ]).astype(np.int64)  # fmt: skip
        if not self._lists.is_trained:
            # With as many heads as lists, taken evenly, nothing is left to learn but that.
            self._quantizer.add(bits[np.linspace(0, len(bits) - 1, self._lists.nlist).astype(int)])
            self._lists.train(bits)
        self._lists.add_with_ids(bits, ids)

    def catch_up(self) -> int:
        """Take in the photos that were registered since; how many. Saves now and then."""
        query = (
            "SELECT f.photo, f.rows FROM features f WHERE f.photo > ? AND f.rows IS NOT NULL "
            f"AND f.photo NOT IN (SELECT photo FROM reused WHERE verdict IN {COPIES}) ORDER BY f.photo"
        )
        with self._register.lookup() as database:
            found = database.conn.execute(query, [self.last]).fetchall()
            (newest,) = database.conn.execute("SELECT coalesce(max(id), 0) FROM photos").fetchone()
        rows = [np.frombuffer(each, ROW) for _, each in found]
        if len(self) + sum(map(len, rows)) > 4 * max(len(self), _FLAT) and self.last:
            return self.rebuild()
        if not self.last:
            self._lists = self._empty(sum(map(len, rows)))
        self.add([number for number, _ in found], rows)
        self.last = newest
        if self.last - self._saved > max(_LEAST_TAIL, _TAIL_SHARE * self.last):
            self.save()
        return len(found)

    def rebuild(self) -> int:
        """Make it again from the register alone and save it; how many photos it has."""
        self.last = 0
        count = self.catch_up()
        self.save()
        return count

    def save(self) -> None:
        body = self._faiss.serialize_index_binary(self._lists).tobytes()
        head = _Head(self.last, self._ends(self.last), hashlib.sha256(body).hexdigest())
        write_durably(self.path, _MAGIC + msgspec.json.encode(head) + b"\n" + body, error=RegisterError)
        self._saved = self.last

    def places(self, photos: Sequence[int]) -> dict[int, np.ndarray]:
        """The features (N,) of ROW of each photo, out of the register."""
        with self._register.lookup() as database:
            rows = database.conn.execute(
                "SELECT photo, rows FROM features WHERE photo IN (SELECT value FROM json_each(?))",
                [msgspec.json.encode(list(photos)).decode()],
            ).fetchall()
        return {number: np.frombuffer(each, ROW) for number, each in rows}

    def _voted(self, rows: np.ndarray, after: int) -> dict[int, float]:
        if not len(rows) or not len(self):
            return {}
        # Many desks ask at once; one question is too short to be shared out.
        self._faiss.omp_set_num_threads(1)
        distances, ids = self._lists.search(np.ascontiguousarray(rows["bits"]), _NEIGHBOURS)
        distances = np.where(ids < 0, BITS // 2, distances)
        # The eleventh neighbour, but never one that is no neighbour at all.
        votes = np.minimum(distances[:, -1:], _MOST_BITS) - distances
        asked, place = np.nonzero((votes > 0) & (ids >= 0) & (ids // _PER_PHOTO > after))
        numbers, whose = np.unique(ids[asked, place] // _PER_PHOTO, return_inverse=True)
        totals = np.bincount(whose, votes[asked, place], len(numbers))
        return dict(zip(numbers.tolist(), totals.tolist(), strict=True))

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
        if hashlib.sha256(body).hexdigest() != head.body_sha256 or head.ends != self._ends(head.last):
            return
        self._lists = self._faiss.deserialize_index_binary(np.frombuffer(body, np.uint8))
        self.last = self._saved = head.last

    def _ends(self, last: int) -> tuple[str, str]:
        query = "SELECT sha256 FROM photos WHERE id IN ((SELECT min(id) FROM photos), ?) ORDER BY id"
        with self._register.lookup() as database:
            found = [row[0] for row in database.conn.execute(query, [last])] or [""]
        return found[0], found[-1]

    def _empty(self, features: int):
        if features <= _FLAT:
            return self._faiss.IndexBinaryIDMap(self._faiss.IndexBinaryFlat(BITS))
        self._quantizer = self._faiss.IndexBinaryHNSW(BITS, _LINKS)
        self._quantizer.hnsw.efSearch = 4 * _PROBES
        lists = self._faiss.IndexBinaryIVF(self._quantizer, BITS, features // _LISTED)
        lists.nprobe = _PROBES
        return lists


prepare(_Head)
