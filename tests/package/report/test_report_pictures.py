"""Previews and sounds inside a report, and what is said where there are none."""

from __future__ import annotations

import base64
import io
import re

import pytest
from PIL import Image, ImageDraw

from evidence_app import limits
from evidence_app.package.report.compare import differences, made_by, without_pictures
from evidence_app.package.report.previews import Embedded, Unpictured
from evidence_app.photo.preview import make_preview
from tests.package.report.reporting import new_bench, render, run_stopped


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    bench = new_bench(tmp_path_factory.mktemp("pictures") / "job")
    run_stopped(bench)
    yield bench.job.record
    bench.job.close()


@pytest.fixture(scope="module")
def report(record) -> bytes:
    return render(record).data


def jpeg(width: int, height: int) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (width, height), (200, 200, 200)).save(file, "JPEG")
    return file.getvalue()


def pictures_of(report: bytes) -> list[bytes]:
    return [base64.b64decode(p) for p in re.findall(rb"data:image/jpeg;base64,([^\"]*)", report)]


def test_damaged_photo_has_a_sentence_instead():
    shown = Embedded(lambda _: jpeg(80, 60)[:300]).pictures([("a", "photo")], None)["a"]
    assert (shown.uri, str(shown.problem)) == (None, "No preview: the photo is cut off before its end.")


def test_page_is_the_same_with_kept_previews_and_with_new_ones(record, report):
    """Kept ones are really used: with none of the originals the pictures are still there."""
    made = {}

    def kept(sha256: str, maker: str) -> bytes:
        data = record.path_of(sha256).read_bytes()
        made[sha256] = make_preview(data, "photo").jpeg
        return made[sha256]

    assert render(record, kept=kept).data == report
    assert len(made) == 3
    without = render(record, kept=kept, load={}.__getitem__)
    assert pictures_of(without.data) == pictures_of(report)


def test_report_of_lost_originals_says_so(record):
    page = render(record, load={}.__getitem__).page
    assert page.text().count("The original is not in the package under its checksum.") == 4
    assert not page.attributes("img")


def test_page_stops_growing_at_its_limit(record, monkeypatch):
    monkeypatch.setattr(limits, "EMBEDDED_BYTES", 60_000)
    report = render(record)
    assert "to keep this page small enough to open" in report.page.text()
    assert sum(map(len, re.findall(rb"data:(?:image|audio)/[^\"]*", report.data))) <= 60_000


def test_each_original_is_embedded_once():
    wanted = [("a", "photo"), ("a", "photo")]
    told = []
    shown = Embedded(lambda _: jpeg(80, 60)).pictures(wanted, lambda *done: told.append(done))
    assert list(shown) == ["a"]
    assert told == [(1, 1)]


def test_sound_is_embedded_bit_for_bit(record, report):
    ref = next(e for e in record.events if e.kind == "note-recorded").body["audio"]
    (sound,) = re.findall(rb"data:audio/flac;base64,([^\"]*)", report)
    assert base64.b64decode(sound) == record.path_of(ref["sha256"]).read_bytes()


def test_long_sound_is_named_and_left_in_the_package(record, monkeypatch):
    monkeypatch.setattr(limits, "EMBEDDED_SOUND_BYTES", 100)
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
    assert re.fullmatch(r"evidence-report/3; Pillow [\d.]+, libjpeg-turbo [\d.]+", made_by(report))


def test_other_encoding_of_the_same_pictures_is_no_difference(report):
    other = encoded_anew(report, 70).replace(b"libjpeg-turbo ", b"libjpeg-turbo 9.")
    assert other != report
    assert differences(other, report) == []


def test_painted_picture_is_a_difference(report):
    assert [str(each) for each in differences(encoded_anew(report, 80, paint=True), report)] == [
        "picture 1 shows something else than its original"
    ]


def test_altered_word_is_a_difference(report):
    altered = report.replace(b"Exchange the whole unit", b"Return the whole unit")
    assert "reads" in str(differences(altered, report)[0])


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


# --- comparing the words alone -----------------------------------------------------------------


def test_words_are_compared_without_any_picture(record, report):
    unpictured = render(record, embedded=Unpictured).data
    assert without_pictures(unpictured) == without_pictures(report)
    assert without_pictures(encoded_anew(report, 70, paint=True)) == without_pictures(report)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"Exchange the whole unit", b"Return the whole unit"),
        (b'src="data:image/jpeg;base64,', b'src="data:image/png;base64,'),
        (b'src="data:image/jpeg;base64,', b'onload="alert(1)" src="data:image/jpeg;base64,'),
        (b'src="data:image/jpeg;base64,', b'src="data:image/jpeg;base64,"><script>alert(1)</script>'),
        (b"</main>", b"<script>alert(1)</script></main>"),
        (b"data:audio/flac;base64,Zkxh", b"data:audio/flac;base64,Zkxi"),
    ],
)  # fmt: skip
def test_no_other_alteration_hides_behind_pictures(report, old, new):
    assert old in report
    assert without_pictures(report.replace(old, new, 1)) != without_pictures(report)
