"""Photos of more bytes than the page reads of one at first are judged as `verify` judges them."""

from __future__ import annotations

import pytest

from evidence_app.package.verify.check import verify
from tests.checker.conftest import check
from tests.checker.test_agreement import compare
from tests.hostile.bag import Bag
from tests.hostile.on_media import exchanged

MUCH = bytes(300 * 1024)  # more than the page reads of a photo's beginning or end at first


def whole(_: bytes) -> bytes:
    return _


def scan_begins_late(photo: bytes) -> bytes:
    """Notes for programs (APP15, ITU-T T.81 B.2.4.6) of 300 KiB before anything else."""
    segment = b"\xff\xef\xff\xff" + bytes(0xFFFD)
    return photo[:2] + segment * 5 + photo[2:]


def end_far_before_the_last_byte(photo: bytes) -> bytes:
    return photo + MUCH


def no_end(photo: bytes) -> bytes:
    return photo[:-2] + MUCH * 2


def segment_ends_in_the_last_bytes(photo: bytes) -> bytes:
    """A segment that is told to end behind the beginning, where other bytes stand than it says."""
    return photo[:2] + b"\xff\xef\xff\xff" * 5 + MUCH + photo[2:]


@pytest.mark.parametrize(
    ("change", "is_whole"),
    [
        (whole, True), (scan_begins_late, True), (end_far_before_the_last_byte, True),
        (no_end, False), (segment_ends_in_the_last_bytes, False),
    ],
    ids=lambda value: getattr(value, "__name__", str(value)),
)  # fmt: skip
def test_large_photo_is_judged_alike(shared, sound, tmp_path, change, is_whole):
    bag = Bag.read(sound[0])
    photo = bag.files[bag.first("data/photos/")]
    path = tmp_path / "case.zip"
    path.write_bytes(exchanged(bag, "photo-taken", "photo", change(photo)).zip())
    app, page = verify(path), shared.give(path)
    compare(app, page)
    told = [item for item in check(page, "originals")["items"] if "is no whole JPEG photo" in item]
    assert bool(told) is not is_whole
    assert ("originals" in app.failed) is not is_whole
