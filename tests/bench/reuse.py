"""The search for reused photos: copies found, honest photos called copies, time for each photo.

    python -m tests.bench reuse [--claims 60] [--among 0] [--copies 4] [--folder FOLDER] [--only PART]

``--claims`` jobs of the practice renderer, each with five photos (slot, mesh, seam, and of flat
print a cell with its label and a type plate) of the same checkpoints, all in one index. Each photo is asked for as it comes in (honest: whatever is called
the same is false); then ``--copies`` copies of each kind and strength (copy_strengths.toml: a
part of the strengths was never tuned on), of photos drawn anew. ``--among`` enters so many other
claims first, of which nothing is asked. ``--folder`` keeps the photos;
``--only`` does one part: honest, tuned or held-out.
"""

from __future__ import annotations

import argparse
import tempfile
import time
import tomllib
from collections import Counter
from pathlib import Path

import cv2
import numpy as np

from evidence_app.desk.photos.compare import LARGE_PX, compare, picture_of
from evidence_app.desk.photos.features import Features, features_in, small_picture
from evidence_app.desk.photos.index import PhotoIndex
from evidence_app.desk.register import Register
from evidence_app.practice.scenes.named import scene_of
from tests.bench._copies import KINDS
from tests.bench._figures import key_of, told

VIEWS = {"slot": "slot?side=left&", "mesh": "mesh?side=left&", "seam": "seam?",
         "label": "tray-full?", "plate": "plate?"}  # fmt: skip
STRENGTHS = Path(__file__).with_name("copy_strengths.toml")
FIRST, FIRST_AMONG = 231, 1001  # limits were set on claims 1001 to 1120, two of them on 201 to 230


class _Index(PhotoIndex):
    """Of photos in memory in place of a register's."""

    def __init__(self, features: list[Features]) -> None:
        super().__init__(Register(Path("not-used.db")))
        self._held = features
        self.add(list(range(1, len(features) + 1)), [each.rows for each in features])

    def places(self, photos):
        return {number: self._held[number - 1].rows for number in photos}


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench reuse", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--claims", type=int, default=60)
    parser.add_argument("--among", type=int, default=0)
    parser.add_argument("--copies", type=int, default=4)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--only", choices=["honest", "tuned", "held-out"])
    chosen = parser.parse_args(argv)
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as made:
        folder = chosen.folder or Path(made)
        paths = rendered(folder, chosen.among, FIRST_AMONG) + rendered(folder, chosen.claims, FIRST)
        asked_from = chosen.among * len(VIEWS)
        start = time.process_time()
        features = [features_in(small_picture(path.read_bytes(), LARGE_PX)) for path in paths]
        described = (time.process_time() - start) / len(paths)
        index = _Index(features)
        if chosen.only in (None, "honest"):
            honest(index, paths, features, described, asked_from)
        copies(index, paths, features, chosen.copies, chosen.only, asked_from)
    return 0


def rendered(folder: Path, claims: int, first: int) -> list[Path]:
    paths = [folder / f"{name}-{seed}.jpg" for seed in range(first, first + claims) for name in VIEWS]
    for path in paths:
        if not path.exists():
            name, _, seed = path.stem.partition("-")
            picture = scene_of(f"{VIEWS[name]}seed={seed}&megapixels=3").picture
            cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return paths


def view_of(path: Path) -> str:
    return path.stem.partition("-")[0]


def honest(
    index: _Index, paths: list[Path], features: list[Features], described: float, asked_from: int
) -> None:
    start, false, possible = time.process_time(), [], Counter()
    asked_for = paths[asked_from:]
    for number, path in enumerate(asked_for, asked_from + 1):
        near = [each for each in index.near(features[number - 1]) if each.photo < number]
        mine = picture(path.read_bytes(), features[number - 1])
        for each in near:
            other = paths[each.photo - 1]
            seen = compare(mine, picture(other.read_bytes(), features[each.photo - 1]), each.mirrored)
            possible[view_of(path)] += seen.possible and not seen.same
            if seen.same:
                false.append((path, other))
    looked = (time.process_time() - start) / len(asked_for)
    for kind, views in (("card", ("slot", "mesh", "seam")), ("print", ("label", "plate"))):
        asked = sum(view_of(path) in views for path in asked_for)
        told(f"honest-{kind}", sum(view_of(one) in views for one, _ in false), f"of {asked}")
    for view in VIEWS:
        mine = [each for each in false if view_of(each[0]) == view]
        count = sum(view_of(path) == view for path in asked_for)
        told(f"honest-{view}-called-copies", len(mine), "", count)
        print(f"{count} honest photos of {view}: {len(mine)} pairs called a copy"
              f" {[(one.name, other.name) for one, other in mine]}, {possible[view]} possible")  # fmt: skip
    told("seconds-a-photo", described + looked, "s", len(asked_for))
    print(f"  CPU a photo: {described:.2f} s decoding and features, {looked:.2f} s search and comparison",
          flush=True)  # fmt: skip


def copies(
    index: _Index, paths: list[Path], features: list[Features], each: int, only: str | None, asked_from: int
) -> None:
    rng = np.random.default_rng(7)
    for name, strengths in tomllib.loads(STRENGTHS.read_text()).items():
        if only not in (None, name):
            continue
        print(f"{name}: strengths {strengths}")
        of_all = [0, 0]
        for kind, change in KINDS.items():
            found = first = count = 0
            missed = []
            for strength in strengths:
                for at in asked_from + rng.choice(len(paths) - asked_from, each, replace=False):
                    copied = change(cv2.imread(str(paths[at])), strength, rng)
                    data = cv2.imencode(".jpg", copied, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
                    asked = picture(data)
                    near = [n for n in index.near(asked.features) if n.photo == at + 1]
                    theirs = picture(paths[at].read_bytes(), features[at])
                    same = any(compare(asked, theirs, n.mirrored).same for n in near)
                    count, first, found = count + 1, first + bool(near), found + same
                    if not same:
                        missed.append(strength)
            told(f"found-{name}-{key_of(kind)}".replace("_", "-"), found, "", count)
            print(f"  {kind:<22} among the nearest {first} of {count}, found {found} of {count}"
                  + (f"; missed at {sorted(missed)}" if missed else ""), flush=True)  # fmt: skip
            of_all = [of_all[0] + found, of_all[1] + count]
        told(f"found-{key_of(name)}", of_all[0], f"of {of_all[1]}")


def picture(data: bytes, features: Features | None = None):
    return picture_of(small_picture(data, LARGE_PX), features)
