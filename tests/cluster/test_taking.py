"""The desk takes packages in from object storage, examined on the cluster; the parts are real.

One run over packages with hostile ones among them, a worker killed in its middle; the same command
again; and the same packages taken in from a folder on the desk's computer alone, which must come to
the same.
"""

from __future__ import annotations

import os
import signal
import threading
from pathlib import Path
from typing import NamedTuple

import pytest

from evidence_app.desk import search
from evidence_app.desk.register import Register
from tests import making
from tests.cluster.storage import KEY, SECRET, Busy
from tests.cluster.test_many import claiming_a_terabyte
from tests.hostile.make import ATTACKS, build

SOUND = SHOWN_BEFORE = 5  # the last package has the photos of the first
IN = "s3://depot/desk/*.zip"
COMPARED = (
    "name",
    "claim",
    "serial",
    "kind",
    "bytes",
    "content_sha256",
    "overall",
    "exit_status",
    "photos",
)


class Run(NamedTuple):
    status: int
    lines: list[str]
    register: Register


def make_packages(folder: Path, count: int) -> None:
    """``count`` sealed packages of claims and photos of their own, and one more with the photos of
    the first."""
    for number in range(count + 1):
        of = number % count
        made = making.make_package(
            folder / f"{number:03}", claim=f"NQ-2026-{number:04}",
            taken=lambda seed, of=of: making.photo(1000 * of + seed, 640, 480),
        )  # fmt: skip
        made.path.rename(folder / f"{number:03}.zip")


@pytest.fixture(scope="module")
def packages(tmp_path_factory, sealed) -> Path:
    folder = tmp_path_factory.mktemp("packages")
    make_packages(folder, SOUND)
    altered = bytearray((folder / "001.zip").read_bytes())
    altered[len(altered) // 2] ^= 1
    (folder / "altered.zip").write_bytes(altered)
    bomb = build(ATTACKS["bomb"], sealed[0], tmp_path_factory.mktemp("hostile")).path
    bomb.rename(folder / "bomb.zip")
    (folder / "empty.zip").touch()
    (folder / "none.zip").write_bytes(b"no package")
    (folder / "terabyte.zip").write_bytes(claiming_a_terabyte())
    return folder


def command(register: Register, *arguments: str) -> list[str]:
    return ["desk", "--register", str(register.path), "intake", *arguments]


@pytest.fixture(scope="module")
def first(cluster, objects, packages, tmp_path_factory) -> Run:
    for each in packages.glob("*.zip"):
        objects.pipe(f"depot/desk/{each.name}", each.read_bytes())
    register = Register(tmp_path_factory.mktemp("desk") / "register.db")
    running = cluster.started(*command(register, "--scheduler", cluster.scheduler, IN))
    lines = [running.stdout.readline() for _ in range(4)]
    os.kill(cluster.a_worker(), signal.SIGKILL)
    lines += running.stdout.readlines()
    return Run(running.wait(), lines, register)


def rows(register: Register) -> list[tuple]:
    """What the register says of each package, but for when and in which order they came."""
    found = search.find(register)
    return sorted(tuple(row[name] for name in COMPARED) for row in found)


def copies(register: Register) -> set[tuple[str, ...]]:
    """The claims of both packages for each pair of photos that are one picture."""
    found = set()
    for row in search.find(register):
        for each in search.show(register, row["id"]).reused:
            found.add(tuple(sorted((row["claim"], each["earlier_claim"]))))
    return found


def test_a_killed_worker_loses_no_package(first):
    told = [line.split("depot/desk/")[1].split(":")[0] for line in first.lines if "depot/desk/" in line]
    expected = [f"{number:03}.zip" for number in range(SOUND + 1)]
    assert sorted(told) == [*expected, "altered.zip", "bomb.zip", "empty.zip", "none.zip", "terabyte.zip"]
    assert first.lines[-1] == f"{SOUND + 5} entered, 0 known, 1 not received\n"
    assert [line for line in first.lines if "not received:" in line] == [
        "s3://depot/desk/empty.zip: not received: this file is empty. Ask for the package again.\n"
    ]
    assert first.status == 2


def test_it_comes_to_the_same_as_at_the_desk_alone(first, cluster, packages, tmp_path):
    alone = Register(tmp_path / "register.db")
    cluster.says(*command(alone, str(packages)))
    assert rows(first.register) == rows(alone)
    assert copies(first.register) == copies(alone) >= {("NQ-2026-0000", f"NQ-2026-{SHOWN_BEFORE:04}")}


def test_each_package_is_kept_whole_beside_the_register(first, packages):
    with first.register.lookup() as database:
        numbers = [row["id"] for row in database.table("packages").rows]
        kept = [Path(search.latest_path(database, number)) for number in numbers]
    assert {first.register.path.parent / "received"} == {path.parent.parent for path in kept}
    assert {path.read_bytes() for path in kept} == {
        each.read_bytes() for each in packages.glob("*.zip") if each.name != "empty.zip"
    }


def test_the_same_again_takes_only_what_is_new(first, cluster, objects, packages):
    asked = command(first.register, "--scheduler", cluster.scheduler, IN)
    objects.pipe("depot/desk/002.zip", (packages / "altered.zip").read_bytes())  # known by its content
    objects.pipe("depot/desk/later.zip", (packages / "003.zip").read_bytes() + b"more")
    before = len(list(first.register.path.parent.glob("received/*")))
    status, said = cluster.says(*asked)
    lines = {line.split(": ")[0].rpartition("/")[2]: line for line in said.splitlines()}
    assert said.splitlines()[-1] == f"1 entered, {SOUND + 5} known, 1 not received"
    assert status == 2 and "entered as package" in lines["later.zip"]
    assert "known: it was received before as package" in lines["002.zip"]
    assert len(list(first.register.path.parent.glob("received/*"))) == before + 1
    events = [event for row in search.find(first.register)
              for event in search.show(first.register, row["id"]).events]  # fmt: skip
    assert [event["kind"] for event in events].count("received-again") == 1
    status, said = cluster.says(*asked)
    assert said.splitlines()[-1] == f"0 entered, {SOUND + 6} known, 1 not received"


def test_no_log_and_no_register_has_the_key_or_its_secret(first, cluster):
    said = [log.read_bytes() for log in cluster.logs] + [first.register.path.read_bytes()]
    said.append("".join(first.lines).encode())
    assert not [each for each in said if SECRET.encode() in each or KEY.encode() in each]


def test_a_storage_that_is_too_busy_for_a_while_is_asked_again(
    cluster, storage, objects, packages, tmp_path
):
    objects.pipe("depot/desk-busy/a.zip", (packages / "004.zip").read_bytes())
    register = Register(tmp_path / "register.db")
    with Busy(storage, refusals=6) as door:
        threading.Thread(target=door.serve_forever, daemon=True).start()
        asked = command(register, "--without-measuring", "--workers", "1", "s3://depot/desk-busy/*.zip")
        status, said = cluster.says(*asked, **door.environment)
        door.shutdown()
    assert (status, door.left) == (0, 0), said


def test_patterns_on_this_computer_stay_where_they_are(cluster, packages, tmp_path):
    register = Register(tmp_path / "register.db")
    status, said = cluster.says(
        *command(register, "--without-measuring", "--workers", "2", str(packages / "00[0-2].zip"))
    )
    assert (status, said.splitlines()[-1]) == (0, "3 entered, 0 known, 0 not received")
    with register.lookup() as database:
        assert {search.latest_path(database, number) for number in (1, 2, 3)} == {
            str(packages / f"00{number}.zip") for number in range(3)
        }
    assert not (tmp_path / "received").exists()
