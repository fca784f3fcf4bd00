"""The whole demo in a network namespace without interfaces: nothing is asked of any network.

`unshare` is of util-linux; the namespace is the kernel's (network_namespaces(7)).
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ALONE = ["unshare", "--net"]


def can_be_alone() -> bool:
    if shutil.which("unshare") is None:
        return False
    return subprocess.run([*ALONE, "true"], capture_output=True).returncode == 0


@pytest.mark.skipif(not can_be_alone(), reason="this user may not make a network namespace")
def test_the_demo_needs_no_network(tmp_path):
    routes = subprocess.run(
        [*ALONE, "cat", "/proc/net/route"], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert len(routes) <= 1, "at most the heading: there is no way out"
    app = Path(sys.executable).with_name("evidence-app")
    done = subprocess.run(
        [*ALONE, app, "demo", tmp_path / "demo"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert len(list((tmp_path / "demo").glob("*.zip"))) == 4
