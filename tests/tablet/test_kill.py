"""The app is killed at each screen; started again, the job stands where it stood."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise

from evidence_app.job.opening import peek

_CHAIN = ("prepare", "step", "entry", "camera", "photo", "finding", "note", "hold", "stop")


def test_killed_at_each_screen_the_job_goes_on_where_it_stood(display, home):
    reached = {}
    for target in _CHAIN:
        child = subprocess.Popen([sys.executable, "-m", "tests.tablet.child", target],
                                 stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        line = next((x for x in child.stdout if x.startswith("READY")), "")
        child.kill()
        complaints = child.communicate()[1]
        assert line, complaints[-2000:]
        _, before, after = line.strip().split("|")
        reached[target] = (before.split(), after.split())
    for earlier, later in pairwise(_CHAIN):
        stood, found = reached[earlier][1], reached[later][0]
        assert found[1] == stood[1], f"after {earlier}: {reached}"
        # Nothing recorded is lost; taking up adds its own entries.
        assert int(found[2]) >= int(stood[2])
    _, state = peek(next((home / "jobs").iterdir()))
    assert state.phase == "stopped"
    assert [n.cut_short for n in state.notes if n.heard == "recorded"] == [True]
