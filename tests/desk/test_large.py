"""A package that tries to drown the desk with a huge photo can still be printed."""

from __future__ import annotations

import io
import json

import pytest
from PIL import Image

from evidence_app.desk.printing import print_report
from tests.hostile.bag import JOURNAL, Bag, sha
from tests.hostile.make import sound_package

MEGAPIXELS_200 = (20_000, 10_000)


@pytest.fixture(scope="module")
def huge_photo(tmp_path_factory):
    """A package, sealed anew by an insider, whose first photo has 200 megapixels."""
    folder = tmp_path_factory.mktemp("huge")
    package, _ = sound_package(folder)
    bag = Bag.read(package)
    name = bag.first("data/photos/")
    data = io.BytesIO()
    Image.new("RGB", MEGAPIXELS_200, (90, 120, 80)).save(data, "JPEG", quality=60)
    old, new = bag.files[name], data.getvalue()
    bag.files[name] = new

    def rename(events):
        text = json.dumps(events).replace(sha(old), sha(new))
        events[:] = json.loads(text)
        for event in events:
            photo = event["body"].get("photo")
            if isinstance(photo, dict) and photo["sha256"] == sha(new):
                photo["bytes"] = len(new)

    path = folder / "huge.zip"
    path.write_bytes(bag.rewrite(rename).own().zip())
    assert sha(new) in bag.files[JOURNAL].decode()
    return path


def test_report_with_a_photo_of_200_megapixels_is_printed(huge_photo):
    assert print_report(huge_photo).startswith(b"%PDF-")
