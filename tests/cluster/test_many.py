"""Many packages from object storage, checked on a Dask cluster: the parts are the real ones.

One run over copies of a sound package with hostile ones among them, a worker killed in its middle;
then the same command again.
"""

from __future__ import annotations

import os
import signal
import struct
import threading
from typing import NamedTuple

import duckdb
import pyarrow.dataset
import pytest

from tests.cluster.storage import KEY, SECRET, Busy
from tests.hostile import zips
from tests.hostile.make import ATTACKS, build

COPIES = 16
IN, OUT = "s3://depot/in/*.zip", "s3://depot/out"


class Run(NamedTuple):
    status: int
    lines: list[str]
    rows: list[dict]


@pytest.fixture(scope="module")
def asked(cluster, sealed) -> list[str]:
    return ["verify", "--keys", str(sealed[1]), "--scheduler", cluster.scheduler, "--results", OUT, IN]


def rows(objects) -> list[dict]:
    """The dataset, as its readers see it."""
    read = pyarrow.dataset.dataset("depot/out", filesystem=objects, partitioning="hive")
    return sorted(read.to_table().to_pylist(), key=lambda row: row["package"])


@pytest.fixture(scope="module")
def first(cluster, objects, sealed, asked, tmp_path_factory) -> Run:
    data = sealed[0].read_bytes()
    for number in range(COPIES):
        objects.pipe(f"depot/in/{number:02}.zip", data)
    altered = bytearray(data)
    altered[len(altered) // 2] ^= 1
    objects.pipe("depot/in/altered.zip", bytes(altered))
    objects.put(
        str(build(ATTACKS["bomb"], sealed[0], tmp_path_factory.mktemp("hostile")).path), "depot/in/bomb.zip"
    )
    objects.pipe("depot/in/none.zip", b"no package")
    objects.pipe("depot/in/terabyte.zip", claiming_a_terabyte())
    running = cluster.started(*asked)
    lines = [running.stdout.readline() for _ in range(4)]
    os.kill(cluster.a_worker(), signal.SIGKILL)
    lines += running.stdout.readlines()
    return Run(running.wait(), lines, rows(objects))


def claiming_a_terabyte() -> bytes:
    size = 10**12
    zip64 = struct.pack("<HHQQ", 1, 16, size, size)
    claim = {"size": 0xFFFFFFFF, "stored": 0xFFFFFFFF, "extra": zip64}
    return zips.write([zips.Entry(b"evidence-1/data/photos/0001.jpg", b"small").both(**claim)])


def test_a_killed_worker_costs_no_answer(first):
    assert not [line for line in first.lines[:-1] if "depot/in/" not in line]
    told = sorted(line.split("depot/in/")[1].split(":")[0] for line in first.lines[:-1])
    expected = [f"{n:02}.zip" for n in range(COPIES)] + [
        f"{name}.zip" for name in ("altered", "bomb", "none", "terabyte")
    ]
    assert told == expected, first.lines
    assert first.lines[-1] == f"20 packages: {COPIES} hold, 3 fail, 1 could not be read\n"
    assert first.status == 2


def test_the_dataset_has_each_package_once_with_what_was_found(first):
    verdicts = {row["package"].rpartition("/")[2]: row["verdict"] for row in first.rows}
    assert len(first.rows) == len(verdicts) == COPIES + 4
    assert {name: verdict for name, verdict in verdicts.items() if verdict != "holds"} == {
        "altered.zip": "fails", "bomb.zip": "fails", "none.zip": "unreadable", "terabyte.zip": "fails",
    }  # fmt: skip
    sound, altered = first.rows[0], first.rows[COPIES]
    assert (sound["closed"], sound["closed_utc"][:10], sound["outcome"]) == (
        "2026-03-02",
        "2026-03-02",
        "completed",
    )
    assert sound["check_checksums"] == "holds" and altered["check_checksums"] == "fails"
    assert len(sound["photos"]) == 2 and {len(each) for each in sound["photos"]} == {64}
    assert len(sound["device_key_sha256"]) == 64


def test_other_readers_take_the_dataset_as_it_is(first, objects, tmp_path):
    objects.get("depot/out", str(tmp_path / "out"), recursive=True)
    counted = duckdb.sql(
        f"SELECT verdict, count(*) FROM read_parquet('{tmp_path}/out/**/*.parquet', hive_partitioning = true)"
        " WHERE closed = '2026-03-02' GROUP BY verdict ORDER BY verdict"
    ).fetchall()
    assert counted == [("fails", 1), ("holds", COPIES)]


def test_the_same_again_checks_only_what_is_new(cluster, objects, first, asked, sealed):
    before = objects.find("depot/out")
    objects.pipe("depot/in/00.zip", objects.cat("depot/in/altered.zip"))  # of the same size
    objects.pipe("depot/in/later.zip", sealed[0].read_bytes())
    status, said = cluster.says(*asked)
    lines = [line.split("depot/in/")[1] for line in said.splitlines()[:-1]]
    checked = [line.split(":")[0] for line in lines if "its result is there already" not in line]
    assert sorted(checked) == ["00.zip", "later.zip", "none.zip"]  # what was unreadable is tried again
    assert said.splitlines()[-1] == f"21 packages: {COPIES} hold, 4 fail, 1 could not be read"
    assert status == 2
    assert len(objects.find("depot/out")) == len(before) + 2


def test_no_log_and_no_result_has_the_key_or_its_secret(cluster, first, objects):
    said = [log.read_bytes() for log in cluster.logs] + [
        objects.cat_file(name) for name in objects.find("depot/out")
    ]
    said.append("".join(first.lines).encode())
    assert not [each for each in said if SECRET.encode() in each or KEY.encode() in each]


def test_a_storage_that_stands_still_costs_packages_their_time_and_no_more(
    cluster, storage, sealed, objects, tmp_path
):
    for number in range(12):
        objects.pipe(f"depot/slow/{number:02}.zip", sealed[0].read_bytes())
    command = ["verify", "--keys", str(sealed[1]), "--scheduler", cluster.scheduler]
    command += ["--results", str(tmp_path / "results"), "s3://depot/slow/*.zip"]
    running = cluster.started(*command, "--time-limit", "3")
    lines = [running.stdout.readline()]
    storage.process.send_signal(signal.SIGSTOP)
    try:
        while "ended after 3 seconds" not in lines[-1]:
            lines.append(running.stdout.readline())
            assert lines[-1], lines
    finally:
        storage.process.send_signal(signal.SIGCONT)
    lines += running.stdout.readlines()
    assert running.wait() == 2 and len(lines) == 13 and "0 fail" in lines[-1]
    assert not [line for line in lines[:-1] if "All 14 checks hold" not in line and "3 seconds" not in line]
    status, said = cluster.says(*command)
    assert (status, said.splitlines()[-1]) == (0, "12 packages: 12 hold, 0 fail, 0 could not be read")


def test_a_storage_that_is_too_busy_for_a_while_is_asked_again(cluster, storage, sealed, objects):
    objects.pipe("depot/busy/a.zip", sealed[0].read_bytes())
    with Busy(storage, refusals=6) as door:
        threading.Thread(target=door.serve_forever, daemon=True).start()
        command = ["verify", "--keys", str(sealed[1]), "--workers", "1", "s3://depot/busy/*.zip"]
        status, said = cluster.says(*command, **door.environment)
        door.shutdown()
    assert (status, door.left) == (0, 0), said
    assert said.splitlines()[-1] == "1 packages: 1 hold, 0 fail, 0 could not be read"
