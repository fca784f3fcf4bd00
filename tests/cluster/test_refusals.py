"""What cannot be used is told in one sentence, and never with a password in it."""

from __future__ import annotations

import os

import certifi
import pytest

from evidence_app.cluster.objects import Listed, list_packages
from evidence_app.package.zip.archive import Unreadable
from tests.cluster.conftest import PROGRAM
from tests.cluster.storage import SECRET, free_ports


@pytest.mark.parametrize(
    ("environment", "expected"),
    [
        (
            {"AWS_SECRET_ACCESS_KEY": SECRET + "x"},
            "s3://depot/in/*.zip: access is refused. Check the rights, and the AWS_ACCESS_KEY_ID",
        ),
        (
            {"AWS_ACCESS_KEY_ID": "UNKNOWN"},
            "s3://depot/in/*.zip: access is refused. Check the rights, and the AWS_ACCESS_KEY_ID",
        ),
        ({"AWS_CA_BUNDLE": certifi.where()}, "s3://depot/in/*.zip: it cannot be used ("),
    ],
    ids=["secret", "key", "certificate"],
)
def test_a_storage_that_does_not_let_us_in(cluster, environment, expected):
    status, said = cluster.says("verify", "s3://depot/in/*.zip", **environment)
    assert status == 2 and said.startswith(f"evidence-app: {expected}")
    assert len(said.splitlines()) == 1 and SECRET not in said


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        ("s3://depot/nowhere/*.zip", "s3://depot/nowhere/*.zip: there is no package. Check the name."),
        ("s3://nobody/*.zip", "s3://nobody/*.zip: there is no"),
        (
            f"s3://name:{SECRET}@depot/a.zip",
            "s3://…: only addresses of the form s3://bucket/name are read.",
        ),
        ("ftp://depot/a.zip", "ftp://…: only addresses of the form s3://bucket/name are read."),
    ],
)
def test_an_address_of_nothing(objects, place, expected):
    with pytest.raises(Unreadable) as refused:
        list_packages([place])
    assert str(refused.value).startswith(expected) and SECRET not in str(refused.value)


def test_an_object_that_another_one_took_the_place_of(objects):
    data = b"PK\x03\x04" + bytes(9_000_000)
    objects.pipe("depot/changing/a.zip", data)
    (listed,) = list_packages(["s3://depot/changing"])
    opened = listed
    assert opened.read_at(0, 4) == b"PK\x03\x04"
    objects.pipe("depot/changing/a.zip", data[::-1])
    for again in (
        lambda: opened.read_at(listed.size - 10, 10),
        lambda: Listed(opened.address, opened.etag, opened.size).read_at(0, 10),
    ):
        with pytest.raises(Unreadable, match="another file has taken its place"):
            again()


def test_an_object_is_fetched_once_whatever_its_files_are(objects, sealed):
    """So many requests as it has stretches of 4 MiB, beside one for its size."""
    from evidence_app.package.verify.check import verify
    from tests.bench.verifying import make_large_package

    folder = sealed[0].parent / "large"
    folder.mkdir()
    objects.put(str(make_large_package(folder, 20_000_000)), "depot/large/a.zip")
    (listed,) = list_packages(["s3://depot/large/*"])
    opened = listed
    assert verify(opened).failed == ()
    assert opened.file.cache.miss_count == -(-listed.size // 2**22)


def test_places_of_this_computer_are_files_folders_and_patterns(sealed, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("in/[a].zip", "in/deep/b.zip", "in/deep/note.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True, parents=True)
        (tmp_path / name).write_bytes(sealed[0].read_bytes())
    for places in (["in"], ["in/[a].zip", "in/**/b.zip"]):
        assert [os.path.relpath(each.address) for each in list_packages(places)] == [
            "in/[a].zip",
            "in/deep/b.zip",
        ]


def test_a_cluster_that_is_not_there(cluster, sealed):
    (port,) = free_ports(1)
    status, said = cluster.says("verify", "--scheduler", f"tcp://127.0.0.1:{port}", str(sealed[0]))
    assert status == 2
    assert said.startswith(f"evidence-app: tcp://127.0.0.1:{port}: no scheduler answers here.")


def test_results_that_cannot_be_written(cluster, sealed):
    status, said = cluster.says(
        "verify", "--scheduler", cluster.scheduler, "--results", "s3://nobody/out", str(sealed[0])
    )
    assert status == 2 and len(said.splitlines()) == 1
    assert said.startswith("evidence-app: s3://nobody/out")


def test_processes_here_and_the_answer_for_programs(cluster, sealed):
    import json

    status, said = cluster.says(
        "verify", "--keys", str(sealed[1]), "--json", "--workers", "1", str(sealed[0])
    )
    (answer,) = json.loads(said)
    assert (status, answer["exit_status"], len(answer["checks"])) == (0, 0, 14)


def test_without_the_extra_the_remedy_is_its_name(cluster, sealed, tmp_path):
    """A library that is not there, as Python tells of it."""
    from subprocess import run

    blocked = "import sys; sys.modules['s3fs'] = None; " + PROGRAM[2]
    done = run(
        [PROGRAM[0], "-c", blocked, "verify", "--workers", "1", str(sealed[0])],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    assert 'pip install "evidence-app[cluster]"' in done.stderr
