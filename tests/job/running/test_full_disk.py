"""A disk that takes no more: a clear error, the state as it was, and on once there is room.

The file size limit of the process makes real writes fail; a disk that is really
full is tried in the record's own tests.
"""

import pytest

from evidence_app.errors import StorageFull
from evidence_app.job import commands as c
from tests.job.bench import SOURCE

resource = pytest.importorskip("resource")

ROOM = 1 << 20


@pytest.fixture
def little_room():
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM, hard))
    yield lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_photo_that_does_not_fit_is_refused_and_can_be_taken_later(bench, photos, little_room):
    bench.work_to("clean")
    before, events = bench.job.state, bench.job.record.events
    photo = c.TakePhoto(photos.sharp() + bytes(2 * ROOM), "slot", "checkpoint", SOURCE)
    with pytest.raises(StorageFull):
        bench.do(photo)
    assert (bench.job.state, bench.job.record.events) == (before, events)
    little_room()
    bench.do(photo)
    assert [owed.kind for owed in bench.job.owed] == ["finding"]
