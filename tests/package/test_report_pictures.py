"""Previews and sounds inside a report, and what is said where there are none."""

from __future__ import annotations

import base64
import io
import re

import numpy as np
import pytest
from PIL import Image, ImageDraw

from evidence_app.package import report_previews
from evidence_app.package.report_compare import differences, made_by
from evidence_app.package.report_previews import Embedded, Wanted, preview
from tests.package.reporting import new_bench, render, run_stopped


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    bench = new_bench(tmp_path_factory.mktemp("pictures") / "job")
    run_stopped(bench)
    yield bench.job.record
    bench.job.close()


@pytest.fixture(scope="module")
def report(record) -> bytes:
    return render(record).data


def jpeg(width: int, height: int, orientation: int = 1, mode: str = "RGB") -> bytes:
    """A picture whose left upper quarter is dark."""
    picture = Image.new(mode, (width, height), 200 if mode == "L" else (200, 200, 200))
    ImageDraw.Draw(picture).rectangle((0, 0, width // 2, height // 2), fill=20)
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = io.BytesIO()
    picture.save(file, "JPEG", exif=exif)
    return file.getvalue()


def decoded(shown) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(shown.uri.partition(",")[2])))


def pictures_of(report: bytes) -> list[bytes]:
    return [base64.b64decode(p) for p in re.findall(rb"data:image/jpeg;base64,([^\"]*)", report)]


@pytest.mark.parametrize(("size", "expected"), [((4000, 3000), (1280, 960)), ((300, 200), (300, 200))])
def test_preview_is_never_larger_than_wanted(size, expected):
    shown = preview(jpeg(*size), Wanted("", 1280, "photo"))
    assert decoded(shown).size == (shown.width, shown.height) == expected


@pytest.mark.parametrize(
    ("orientation", "dark"), [(1, (0, 0)), (3, (1, 1)), (6, (1, 0)), (8, (0, 1)), (2, (1, 0))]
)
def test_preview_stands_upright(orientation, dark):
    """Exif orientation, CIPA DC-008: 6 is turned right, 8 left, 3 upside down, 2 mirrored."""
    picture = np.asarray(decoded(preview(jpeg(80, 60, orientation), Wanted("", 64, "photo"))))
    height, width = picture.shape[:2]
    found = {
        (x, y): int(picture[height * (1 + 2 * y) // 4, width * (1 + 2 * x) // 4].mean())
        for x in (0, 1)
        for y in (0, 1)
    }
    assert min(found, key=found.get) == dark


def test_grey_photo_has_a_preview():
    assert preview(jpeg(80, 60, mode="L"), Wanted("", 64, "photo")).uri


@pytest.mark.parametrize("data", [b"", b"\xff\xd8\xff", b"no picture", jpeg(80, 60)[:300]])
def test_damaged_photo_has_a_sentence_instead(data):
    shown = preview(data, Wanted("", 64, "photo"))
    assert (shown.uri, shown.problem) == (
        None, "No preview: the file is not a picture that can be decoded.",
    )  # fmt: skip


def test_picture_of_too_many_pixels_is_not_decoded():
    header = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + (29_000).to_bytes(4, "big") * 2
    assert "more pixels" in preview(header, Wanted("", 64, "markup")).problem


def test_report_of_lost_originals_says_so(record):
    page = render(record, load={}.__getitem__).page
    assert page.text().count("The original is not in the package under its checksum.") == 4
    assert not page.attributes("img")


def test_page_stops_growing_at_its_limit(record, monkeypatch):
    monkeypatch.setattr(report_previews, "MAX_EMBEDDED_BYTES", 60_000)
    report = render(record)
    assert "to keep this page small enough to open" in report.page.text()
    assert sum(map(len, re.findall(rb"data:(?:image|audio)/[^\"]*", report.data))) <= 60_000


def test_each_original_is_embedded_once():
    wanted = [Wanted("a", 64, "photo"), Wanted("a", 64, "photo")]
    told = []
    shown = Embedded(lambda _: jpeg(80, 60)).pictures(wanted, lambda *done: told.append(done))
    assert list(shown) == ["a"]
    assert told == [(1, 1)]


def test_sound_is_embedded_bit_for_bit(record, report):
    ref = next(e for e in record.events if e.kind == "note-recorded").body["audio"]
    (sound,) = re.findall(rb"data:audio/flac;base64,([^\"]*)", report)
    assert base64.b64decode(sound) == record.path_of(ref["sha256"]).read_bytes()


def test_long_sound_is_named_and_left_in_the_package(record, monkeypatch):
    monkeypatch.setattr(report_previews, "MAX_SOUND_BYTES", 100)
    page = render(record).page
    assert "Too long to be played from this page." in page.text()
    assert not page.attributes("audio")
    assert [a for a in page.attributes("a") if a["href"].startswith("voice/")]


# --- comparing two reports ---------------------------------------------------------------------


def encoded_anew(report: bytes, quality: int, paint: bool = False) -> bytes:
    """The same page with its previews encoded by another setting, the first painted over."""
    painted = [paint]

    def again(found: re.Match) -> bytes:
        picture = Image.open(io.BytesIO(base64.b64decode(found[1]))).convert("RGB")
        if painted.pop() if painted else False:
            ImageDraw.Draw(picture).rectangle((40, 40, 70, 70), fill=(255, 0, 255))
        file = io.BytesIO()
        picture.save(file, "JPEG", quality=quality)
        return b"data:image/jpeg;base64," + base64.b64encode(file.getvalue())

    return re.sub(rb"data:image/jpeg;base64,([^\"]*)", again, report)


def test_report_names_its_picture_library(report):
    assert re.fullmatch(r"evidence-report/1; Pillow [\d.]+, libjpeg-turbo [\d.]+", made_by(report))


def test_other_encoding_of_the_same_pictures_is_no_difference(report):
    other = encoded_anew(report, 70).replace(b"libjpeg-turbo ", b"libjpeg-turbo 9.")
    assert other != report
    assert differences(other, report) == []


def test_painted_picture_is_a_difference(report):
    assert differences(encoded_anew(report, 80, paint=True), report) == [
        "picture 1 shows something else than its original"
    ]


def test_altered_word_is_a_difference(report):
    altered = report.replace(b"Exchange the whole unit", b"Return the whole unit")
    assert "reads" in differences(altered, report)[0]


def test_added_script_is_a_difference(report):
    altered = report.replace(b"</main>", b"<script>alert(1)</script></main>")
    assert differences(altered, report)


def test_picture_left_out_is_a_difference(report):
    altered = report.replace(b"data:image/jpeg;base64,", b"data:image/png;base64,", 1)
    assert differences(altered, report)


def test_something_in_the_place_of_a_picture_is_a_difference(report):
    first = re.search(rb"data:image/jpeg;base64,([^\"]*)", report)
    altered = report.replace(first[1], base64.b64encode(b"no picture"))
    assert differences(altered, report)
