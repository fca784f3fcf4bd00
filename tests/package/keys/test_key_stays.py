"""A private key stands in its own file and nowhere else."""

from __future__ import annotations

import base64
import os
import subprocess
import sys
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from evidence_app.package.keys.signing_key import open_key
from tests.making import make_closed_job

PIN = "604192"


def command(folder, *words):
    environment = os.environ | {"EVIDENCE_APP_HOME": str(folder / "home"), "EVIDENCE_APP_PIN": PIN}
    done = subprocess.run(
        [Path(sys.executable).with_name("evidence-app"), *map(str, words)],
        env=environment, capture_output=True, cwd=folder,
    )  # fmt: skip
    return done.stdout + done.stderr


def spellings(key_file) -> list[bytes]:
    """The 32 secret bytes as they could stand somewhere: raw, in hex, in Base64 at each offset."""
    seed = open_key(key_file, PIN)._private.private_bytes(Encoding.Raw, PrivateFormat.Raw, NoEncryption())
    encoded = [base64.b64encode(b"\0" * lead + seed)[4 * (lead > 0) : -4] for lead in range(3)]
    return [seed, seed.hex().encode(), seed.hex().upper().encode(), *(each[2:-2] for each in encoded)]


def test_neither_key_nor_pin_is_in_anything_that_sealing_leaves_or_says(tmp_path):
    key = tmp_path / "keys" / "device-key.pem"
    said = command(tmp_path, "keys", "make", key)
    job = make_closed_job(tmp_path / "job")
    said += command(tmp_path, "seal", job, "--key", key, "--out", tmp_path / "out")
    os.chmod(key, 0o000)
    said += command(tmp_path, "seal", job, "--key", tmp_path / "none.pem", "--out", tmp_path / "out")
    os.chmod(key, 0o600)
    assert list((tmp_path / "out").glob("*.zip"))
    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    secrets = [*spellings(key), PIN.encode()]
    found = [path for path in files for each in secrets if each in path.read_bytes()]
    assert found == []
    assert not [each for each in secrets if each in said]


def test_only_this_user_reads_what_is_kept_of_a_key(tmp_path):
    key = tmp_path / "keys" / "device-key.pem"
    command(tmp_path, "keys", "make", key)
    with pytest.raises(Exception, match="PIN is wrong"):
        open_key(key, "719203")
    modes = {path.name: path.stat().st_mode & 0o077 for path in key.parent.iterdir()}
    assert modes["device-key.pem"] == modes["device-key.pem.attempts.json"] == 0


_ENDS_BADLY = """
import os, resource, sys
from pathlib import Path
from evidence_app.package.keys.signing_key import open_key
resource.setrlimit(resource.RLIMIT_CORE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
key = open_key(Path(sys.argv[1]), sys.argv[2]) if len(sys.argv) > 1 else None
os.abort()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="where cores are written is asked of Linux")
def test_no_core_is_left_of_a_process_that_opened_a_key(tmp_path):
    key = tmp_path / "keys" / "device-key.pem"
    command(tmp_path, "keys", "make", key)

    def cores(*words) -> list[Path]:
        here = tmp_path / f"run-{len(words)}"
        here.mkdir()
        subprocess.run([sys.executable, "-c", _ENDS_BADLY, *map(str, words)], cwd=here, capture_output=True)
        return [path for path in here.iterdir() if path.name.startswith("core")]

    if not cores():
        pytest.skip("this machine writes no core into the folder of the process")
    assert cores(key, PIN) == []
