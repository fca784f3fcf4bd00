"""Previews are made while the job is done; without them the job goes on all the same."""

from __future__ import annotations

import shutil

import cv2
import numpy as np

from evidence_app.job import commands as c
from evidence_app.photo.preview import make_preview, maker
from evidence_app.record.record import Record
from tests.job.bench import Bench

DRAWING = cv2.imencode(".png", np.full((90, 120, 3), 200, np.uint8))[1].tobytes()


def measured(data, wanted, reference, second):
    return {"kind": "gap", "unit": "mm", "value": 0.1, "U": 0.05, "conformity": "within",
            "method": "fixed for the test", "sentence": "The gap is 0.1 mm."}, DRAWING  # fmt: skip


def test_every_photo_and_drawing_has_its_preview_when_the_job_is_left(folder, clock, photos):
    bench = Bench(folder, clock, photos, measure=measured)
    bench.open()
    bench.work_to("inspect")
    bench.settle()
    drawing = bench.last("measured").body["markup"]["sha256"]
    bench.do(c.Leave())
    bench.job.close()
    with Record.open(folder, clock, read_only=True) as record:
        for photo in bench.job.state.photos:
            data = record.path_of(photo.sha256).read_bytes()
            assert record.derived(photo.sha256, maker()) == make_preview(data, "photo").jpeg
        assert record.derived(drawing, maker()) == make_preview(DRAWING, "markup").jpeg


def test_job_goes_on_where_previews_cannot_be_kept(bench):
    shutil.rmtree(bench.folder / "derived")
    (bench.folder / "derived").write_text("a file in the folder's place")
    bench.work_to("press")
    assert bench.job.state.photos[-1].settled
    bench.job.close()
    assert (bench.folder / "derived").is_file()
