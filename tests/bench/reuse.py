"""The search for reused photos: speed and size of the index, misses and false matches.

    python -m tests.bench reuse [--photos 1000000] [--queries 300] [--jobs 4]

Three tables. The index: hashes of ``--photos`` made-up photos and of their middles, in
memory and on disk, and the time of one question (eight hashes of the whole picture, the ways
of turning it, and those of its parts that are asked for), against as many plain passes of NumPy over the same
hashes. Rendered scenes: every kind of copy of photos of
every checkpoint, and honest photos of the same checkpoint in other jobs, which look alike
on purpose. Photographs: those that scikit-image and scikit-learn carry.
"""

from __future__ import annotations

import argparse
import itertools
import statistics
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from evidence_app.desk.photos.compare import SAME_AGREEMENT, compare, prepare_picture
from evidence_app.desk.photos.hash import SAME, hash_picture
from evidence_app.desk.photos.index import PhotoIndex
from evidence_app.desk.photos.reuse import MIDDLE_WITHIN, WITHIN
from evidence_app.desk.register import Register
from evidence_app.practice.scenes.named import scene_of

VIEWS = ("seam", "mesh?side=left", "slot?side=left", "slot?side=left&card=0", "front", "back",
         "bed", "tray", "stand", "plate", "spacers")  # fmt: skip
LIMIT_MS, LIMIT_BYTES = 20.0, 200.0


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench reuse", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--photos", type=int, default=1_000_000)
    parser.add_argument("--queries", type=int, default=300)
    parser.add_argument("--jobs", type=int, default=4)
    chosen = parser.parse_args(argv)
    index(chosen.photos, chosen.queries)
    scenes(chosen.jobs)
    photographs()
    return 0


# --- the index ---------------------------------------------------------------------------


def index(photos: int, queries: int) -> None:
    rng = np.random.default_rng(1)
    codes, middles = rng.integers(0, 256, (2, photos, 32), np.uint8)
    before = _resident()
    tried = PhotoIndex(Register(Path("not-used.db")))
    for start in range(0, photos, 50_000):
        numbers = np.arange(start + 1, min(start + 50_000, photos) + 1, dtype=np.int64)
        tried.add(numbers, codes[start : start + 50_000])
        tried.add(numbers, middles[start : start + 50_000], middles=True)
    held = (_resident() - before) / photos
    on_disk = sum(len(tried._faiss.serialize_index_binary(each))
                  for each in (tried._whole, tried._middles)) / photos  # fmt: skip
    seconds, worked, plain, missed = [], [], [], 0
    words = codes.view(np.uint64)
    parts = len(hash_picture(np.zeros((64, 64, 3), np.uint8)).asked)
    for _ in range(queries):
        number = int(rng.integers(0, photos))
        by_middle = bool(rng.integers(0, 2))
        bits = np.unpackbits((middles if by_middle else codes)[number])
        bits[rng.choice(256, SAME, replace=False)] ^= 1
        turned, asked = (rng.integers(0, 256, (count, 32), np.uint8) for count in (8, parts))
        wanted = asked if by_middle else turned
        wanted[rng.integers(0, len(wanted))] = np.packbits(bits)
        start, busy = time.perf_counter(), time.process_time()
        near = tried.near(turned, asked, WITHIN, MIDDLE_WITHIN)
        seconds.append(time.perf_counter() - start)
        worked.append(time.process_time() - busy)
        missed += number + 1 not in [each.photo for each in near]
    for _ in range(5):
        start = time.perf_counter()
        np.bitwise_count(words ^ words[0]).sum(axis=1, dtype=np.uint16).argmin()
        plain.append(time.perf_counter() - start)
    middle, late = np.percentile(seconds, [50, 95]) * 1e3
    one = statistics.median(plain) * 1e3 * (8 + parts)
    print(f"{photos} photos, {queries} questions of {8 + parts} hashes each")
    print(f"  middle {middle:.1f} ms, 95 % within {late:.1f} ms (limit {LIMIT_MS:.0f} ms: "
          f"{late / LIMIT_MS:.2f}); as many passes of NumPy {one:.1f} ms: {middle / one:.2f}")  # fmt: skip
    print(f"  of that the processor's own time: 95 % within "
          f"{np.percentile(worked, 95) * 1e3:.1f} ms (the rest is waiting for other programs)")  # fmt: skip
    print(f"  {held:.0f} bytes a photo in memory, {on_disk:.0f} on disk (limit {LIMIT_BYTES:.0f})")
    print(f"  {missed} of {queries} copies at {SAME} bits missed")


def _resident() -> int:
    pages = Path("/proc/self/statm").read_text().split()[1]
    return int(pages) * 4096


# --- copies and honest photos ----------------------------------------------------------------


def saved(quality: int) -> Callable[[np.ndarray], np.ndarray]:
    def save(picture: np.ndarray) -> np.ndarray:
        return cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], 1)

    return save


def scaled(part: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda p: cv2.resize(p, None, fx=part, fy=part, interpolation=cv2.INTER_AREA)


def cropped(part: float, at: float = 0.5) -> Callable[[np.ndarray], np.ndarray]:
    """``part`` of width and height is cut away, ``at`` of it on the left and above."""

    def crop(picture: np.ndarray) -> np.ndarray:
        height, width = picture.shape[:2]
        y, x = round(height * part * at), round(width * part * at)
        return picture[y : y + round(height * (1 - part)), x : x + round(width * (1 - part))]

    return crop


def right_cut(part: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda picture: picture[:, : round(picture.shape[1] * (1 - part))]


def rolled(degrees: float) -> Callable[[np.ndarray], np.ndarray]:
    def roll(picture: np.ndarray) -> np.ndarray:
        height, width = picture.shape[:2]
        matrix = cv2.getRotationMatrix2D((width / 2, height / 2), degrees, 1.08)
        return cv2.warpAffine(picture, matrix, (width, height))

    return roll


COPIES: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "saved again, quality 40": saved(40),
    "half the size": scaled(0.5),
    "a third, quality 40": lambda p: saved(40)(scaled(1 / 3)(p)),
    "brighter": lambda p: cv2.convertScaleAbs(p, alpha=1.15, beta=25),
    "darker": lambda p: cv2.convertScaleAbs(p, alpha=0.7),
    "a quarter turned": lambda p: np.ascontiguousarray(np.rot90(p)),
    "mirrored": lambda p: np.ascontiguousarray(p[:, ::-1]),
    "turned by 1 degree": rolled(1),
    "turned by 2 degrees": rolled(2),
    "turned by 3 degrees": rolled(3),
    "turned by 5 degrees": rolled(5),
    "3 % cut away": cropped(0.03),
    "5 % cut away": cropped(0.05),
    "3 % cut away at a corner": cropped(0.03, 1.0),
    "5 % cut away at a corner": cropped(0.05, 1.0),
    "8 % cut away at a corner": cropped(0.08, 1.0),
    "5 % cut away on one side": right_cut(0.05),
    "8 % cut away on one side": right_cut(0.08),
    "10 % cut away on one side": right_cut(0.10),
    "15 % cut away on one side": right_cut(0.15),
    "10 % cut away": cropped(0.10),
    "20 % cut away": cropped(0.20),
    "30 % cut away": cropped(0.30),
    "50 % cut away": cropped(0.50),
}


def scenes(jobs: int) -> None:
    wanted = [(view, seed) for view in VIEWS for seed in range(101, 101 + jobs)]
    with ProcessPoolExecutor(2) as pool:
        pictures = dict(zip(wanted, pool.map(_rendered, wanted), strict=True))
    first = {view: pictures[view, 101] for view in VIEWS}
    print(f"\nrendered scenes: {len(VIEWS)} checkpoints, {jobs} jobs each, 1 megapixel")
    _copies(first)
    hashes = {key: hash_picture(picture) for key, picture in pictures.items()}
    ready = {key: prepare_picture(picture) for key, picture in pictures.items()}
    pairs = [(a, b) for a, b in itertools.combinations(wanted, 2) if a[1] != b[1]]
    same = [pair for pair in pairs if pair[0][0] == pair[1][0]]
    _honest("honest, same checkpoint", same, hashes, ready)
    other = [pair for pair in pairs if pair[0][0] != pair[1][0]]
    _honest("honest, another checkpoint", other, hashes, ready, only_near=True)


def photographs() -> None:
    pictures = dict(_photographs())
    print(f"\nphotographs of scikit-image and scikit-learn: {len(pictures)}")
    _copies(pictures)
    hashes = {name: hash_picture(picture) for name, picture in pictures.items()}
    ready = {name: prepare_picture(picture) for name, picture in pictures.items()}
    pairs = list(itertools.combinations(pictures, 2))
    _honest("different photographs", pairs, hashes, ready)


def _photographs() -> Iterator[tuple[str, np.ndarray]]:
    import skimage
    import sklearn

    # The left and right picture of the motorcycle are two honest photos of one thing.
    names = ("astronaut.png", "chelsea.png", "coffee.png", "rocket.jpg", "motorcycle_left.png",
             "motorcycle_right.png", "camera.png", "brick.png", "grass.png", "gravel.png",
             "coins.png", "ihc.png", "retina.jpg", "hubble_deep_field.jpg", "moon.png",
             "page.png", "text.png", "clock_motion.png")  # fmt: skip
    folders = [
        Path(skimage.__file__).parent / "data",
        Path(sklearn.__file__).parent / "datasets/images",
    ]
    for folder, name in [*((folders[0], n) for n in names), (folders[1], "china.jpg"),
                         (folders[1], "flower.jpg")]:  # fmt: skip
        picture = cv2.imread(str(folder / name))
        if picture is not None:
            yield name, picture


def _rendered(what: tuple[str, int]) -> np.ndarray:
    view, seed = what
    joint = "&" if "?" in view else "?"
    return scene_of(f"{view}{joint}seed={seed}&megapixels=1.0").picture


def _copies(pictures: dict) -> None:
    print(f"  {'copies':<28}{'distance':>14}{f'within {SAME}':>11}{f'within {WITHIN}':>11}"
          f"{'middle':>9}{'same picture':>14}{'agreement':>12}   found in the end")  # fmt: skip
    own = {name: (hash_picture(p), prepare_picture(p)) for name, p in pictures.items()}
    for kind, change in COPIES.items():
        distances, agreements, middles, seen = [], [], 0, 0
        for name, picture in pictures.items():
            copy = np.ascontiguousarray(change(picture))
            hashed = hash_picture(copy)
            distance, turn = _distance(hashed, own[name][0])
            by_middle = _middle_distance(hashed, own[name][0]) <= MIDDLE_WITHIN
            agreement = compare(prepare_picture(copy), own[name][1],
                                kind == "mirrored" or (distance <= WITHIN and turn >= 4)).agreement  # fmt: skip
            distances.append(distance)
            agreements.append(agreement)
            middles += by_middle
            found = distance <= WITHIN or by_middle
            seen += found and (agreement >= SAME_AGREEMENT or distance <= SAME)
        count = len(pictures)
        print(f"  {kind:<28}{f'{min(distances)} to {max(distances)}':>14}"
              f"{sum(d <= SAME for d in distances):>6} of {count:<2}"
              f"{sum(d <= WITHIN for d in distances):>6} of {count:<2}"
              f"{middles:>4} of {count:<2}"
              f"{sum(a >= SAME_AGREEMENT for a in agreements):>9} of {count:<2}"
              f"{f'{min(agreements):.2f} up':>12}   {seen} of {count}")  # fmt: skip


def _honest(kind: str, pairs: list, hashes: dict, ready: dict, only_near: bool = False) -> None:
    distances = [_distance(hashes[a], hashes[b])[0] for a, b in pairs]
    middles = [_middle_distance(hashes[a], hashes[b]) for a, b in pairs]
    found = [d <= WITHIN or m <= MIDDLE_WITHIN for d, m in zip(distances, middles, strict=True)]
    near = [pair for pair, told in zip(pairs, found, strict=True) if told or not only_near]
    agreements = [compare(ready[a], ready[b]).agreement for a, b in near]
    told = dict(zip(pairs, found, strict=True))
    called = sum(a >= SAME_AGREEMENT and told[p] for a, p in zip(agreements, near, strict=True))
    print(f"  {kind}: {len(pairs)} pairs, distance {min(distances)} to {max(distances)}; by the hash "
          f"alone {sum(d <= SAME for d in distances)} within {SAME} and "
          f"{sum(d <= WITHIN for d in distances)} within {WITHIN}, "
          f"{sum(m <= MIDDLE_WITHIN for m in middles)} by a middle; highest agreement "
          f"{max(agreements, default=0):.2f} of {len(near)} compared; called the same picture: {called}")  # fmt: skip


def _distance(one, other) -> tuple[int, int]:
    bits = np.frombuffer(other.bits, np.uint8)
    distances = np.unpackbits(one.turned ^ bits, axis=1).sum(axis=1)
    return int(distances.min()), int(distances.argmin())


def _middle_distance(one, other) -> int:
    if other.middle is None:
        return 256
    bits = np.frombuffer(other.middle, np.uint8)
    return int(np.unpackbits(one.asked ^ bits, axis=1).sum(axis=1).min())
