"""Sealing: the same bytes each time, whole or not at all, never from a damaged job."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from evidence_app.errors import PackageError
from evidence_app.job.running.guide import Job
from evidence_app.package import layout
from evidence_app.package.bag import bag_info
from evidence_app.package.keys.signing_key import read_public_key, signature_holds
from evidence_app.package.seal import seal_job
from evidence_app.package.verify.check import verify
from evidence_app.photo.preview import maker
from evidence_app.record.derived import Derived
from evidence_app.steplist.load import loads
from tests.making import (
    CLAIM,
    DEPOT,
    STEP_LIST,
    QuickClock,
    make_closed_job,
    make_key,
    make_package,
    open_record,
    seal,
)


@pytest.fixture(scope="module")
def job(tmp_path_factory) -> Path:
    """A stopped job with a ticket: it has every kind of file."""
    folder = tmp_path_factory.mktemp("sealing") / "job"
    return make_closed_job(folder, outcome="stopped", depot_key=make_key(9))


@pytest.fixture(scope="module")
def package(job, tmp_path_factory) -> Path:
    return seal(job, tmp_path_factory.mktemp("sealed")).path


@pytest.fixture
def own_job(job, tmp_path) -> Path:
    """A copy of the job that a test may damage."""
    return shutil.copytree(job, tmp_path / "job")


def entry(package: Path, name: str) -> bytes:
    with zipfile.ZipFile(package) as archive:
        return archive.read(f"{package.stem}/{name}")


def names(package: Path) -> list[str]:
    """Names inside the top folder."""
    with zipfile.ZipFile(package) as archive:
        return [name.removeprefix(f"{package.stem}/") for name in archive.namelist()]


def an_original(job: Path) -> Path:
    with open_record(job) as record:
        places = layout.place_originals(record.events)
        return record.path_of(next(p.sha256 for p in places if p.role == "photo"))


# --- the same bytes -------------------------------------------------------------------


SEAL_SCRIPT = """
import sys
from pathlib import Path
from tests.making import seal
print(seal(Path(sys.argv[1]), Path(sys.argv[2])).path)
"""


def run_seal(job: Path, out: Path, script: str = SEAL_SCRIPT, **environment: str):
    command = [sys.executable, "-c", script, job, out]
    settings = {**os.environ, **environment}
    root = Path(__file__).parents[2]
    return subprocess.run(command, capture_output=True, text=True, env=settings, cwd=root)


def test_another_process_seals_the_same_bytes(job, package, tmp_path):
    run_seal(job, tmp_path, TZ="Pacific/Auckland", PYTHONHASHSEED="7", LC_ALL="C")
    assert (tmp_path / package.name).read_bytes() == package.read_bytes()


def test_sealing_again_leaves_the_package(job, package):
    again = seal(job, package.parent)
    assert (again.path, again.already_there) == (package, True)


def test_another_key_gives_another_seal(job, package, tmp_path):
    other = seal(job, tmp_path, make_key(2)).path
    assert entry(other, "seal.json") != entry(package, "seal.json")


def test_another_package_of_that_name_is_never_replaced(job, package, tmp_path):
    (tmp_path / package.name).write_bytes(b"mine")
    with pytest.raises(PackageError, match=re.escape(package.name)):
        seal(job, tmp_path)
    assert (tmp_path / package.name).read_bytes() == b"mine"


def test_a_package_that_only_begins_the_same_is_never_replaced(job, package, tmp_path):
    longer = package.read_bytes() + b"\0"
    (tmp_path / package.name).write_bytes(longer)
    with pytest.raises(PackageError, match="another package"):
        seal(job, tmp_path)
    assert (tmp_path / package.name).read_bytes() == longer


def test_sealing_changes_nothing_in_the_job(own_job, tmp_path):
    def state():
        files = sorted(path for path in own_job.rglob("*") if path.is_file())
        return [(path, path.read_bytes()) for path in files]

    before = state()
    seal(own_job, tmp_path / "out")
    assert state() == before


# --- what is in it ----------------------------------------------------------------------


def damaged(folder: Path) -> None:
    for file in folder.iterdir():
        file.write_bytes(file.read_bytes()[:-1])


@pytest.mark.parametrize("loss", [shutil.rmtree, damaged])
def test_lost_previews_are_made_anew_and_the_package_is_the_same(own_job, package, tmp_path, loss):
    assert list((own_job / "derived").iterdir())
    loss(own_job / "derived")
    assert seal(own_job, tmp_path / "out").path.read_bytes() == package.read_bytes()


def test_kept_previews_are_used(own_job, tmp_path):
    """A folder that was tampered with shows it: the report then differs, and verify says so."""
    with open_record(own_job) as record:
        one, other, *_ = (place.sha256 for place in layout.place_originals(record.events)
                      if place.role == "photo")  # fmt: skip
        exchanged = record.derived(other, maker())
    Derived(own_job / "derived").keep(one, maker(), exchanged)
    assert verify(seal(own_job, tmp_path / "out").path).failed == ("report",)


def test_every_original_is_in_its_place(job, package):
    with open_record(job) as record:
        places = layout.place_originals(record.events)
        expected = {p.path: record.path_of(p.sha256).read_bytes() for p in places}
    assert {path: entry(package, path) for path in expected} == expected


def test_every_kind_of_original_is_there(job):
    with open_record(job) as record:
        roles = {place.role for place in layout.place_originals(record.events)}
    assert roles == {"step-list", "ticket", "ticket-signature", "photo", "markup", "voice"}


def test_the_journal_is_the_jobs(job, package):
    with open_record(job) as record:
        assert entry(package, "data/journal.jsonl") == b"".join(record.journal_lines())


def test_the_manifest_lists_every_payload_file_with_its_digest(package):
    listed = dict(
        reversed(line.split("  ", 1))
        for line in entry(package, "manifest-sha256.txt").decode().splitlines()
    )
    found = {
        name: hashlib.sha256(entry(package, name)).hexdigest()
        for name in names(package)
        if name.startswith("data/")
    }
    assert listed == found


def test_there_is_nothing_but_the_payload_and_the_tag_files(package):
    assert {n for n in names(package) if not n.startswith("data/")} == set(layout.TAG_FILES)


def test_names_are_portable_and_differ_ignoring_case(package):
    inside = names(package)
    assert len({name.lower() for name in inside}) == len(inside)
    assert all(re.fullmatch(r"[a-z0-9-]+(\.[a-z0-9]+)?", part) for n in inside for part in n.split("/"))


def test_the_seal_is_what_the_journal_says(job, package):
    sealed = layout.read_seal(entry(package, "seal.json"))
    with open_record(job) as record:
        first, last = record.events[0], record.events[-1]
    assert (sealed.job, sealed.claim, sealed.outcome, sealed.opened_at, sealed.closed_at) == (
        first.body["job"],
        CLAIM,
        "stopped",
        first.wall,
        last.wall,
    )
    assert (sealed.journal_head, sealed.events) == (last.hash, last.sequence)


def test_the_seal_covers_both_manifests(package):
    sealed = layout.read_seal(entry(package, "seal.json"))
    digests = [
        hashlib.sha256(entry(package, name)).hexdigest()
        for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt")
    ]
    assert [sealed.payload_manifest_sha256, sealed.tag_manifest_sha256] == digests


def test_the_signature_holds_under_the_key_inside(package):
    key = read_public_key(entry(package, "device-key.pem"), "device-key.pem")
    assert signature_holds(key, entry(package, "seal.sig"), entry(package, "seal.json"))


def test_the_report_shows_the_fingerprint_of_the_seal(package):
    sealed = layout.read_seal(entry(package, "seal.json"))
    assert sealed.fingerprint.encode() in entry(package, "data/report.html")


def test_bag_info_names_claim_day_and_depot(package):
    info = entry(package, "bag-info.txt").decode().splitlines()
    assert {
        f"External-Identifier: {CLAIM}",
        "Bagging-Date: 2026-03-02",
        f"Source-Organization: {DEPOT}",
    } <= set(info)


def test_bag_info_names_no_organisation_when_none_was_given(tmp_path):
    plain = make_package(tmp_path).path
    assert b"Source-Organization" not in entry(plain, "bag-info.txt")


@pytest.mark.parametrize(
    ("claim", "top"),
    [
        ("NQ/2026:0117", "evidence-NQ-2026-0117-"),
        ("../../etc", "evidence-etc-"),
        ("Éclair 7.", "evidence-Eclair-7-"),
        ("検査", "evidence-claim-"),
        ("x" * 300, f"evidence-{'x' * 40}-"),
        ("CON", "evidence-CON-"),
    ],
)
def test_the_name_of_the_package_is_portable_whatever_the_claim(claim, top):
    name = layout.top_folder(claim, "3f2a1b4c-9d52-4a6e-8f0b-0c1d2e3f4a5b")
    assert name == f"{top}3f2a1b4c"


def test_a_claim_of_several_lines_cannot_add_a_line_to_bag_info():
    info = bag_info(
        closed_at="2026-03-02T08:15:30.123+01:00",
        identifier="NQ-1\nPayload-Oxum: 0.0",
        payload_sizes=[5, 7],
        software="evidence-app",
    )
    assert b"\nPayload-Oxum: 12.2\n" in info
    assert info.count(b"\n") == 4


# --- what is refused ---------------------------------------------------------------------


def test_an_open_job_is_refused_with_what_it_owes(tmp_path):
    arguments = (STEP_LIST, None, "H7-1", CLAIM, "M. Okafor-Lind", False, QuickClock())
    Job.open(tmp_path / "job", *arguments).close()
    with pytest.raises(PackageError, match=r"still required: Read and acknowledge.*Hand lamp"):
        seal(tmp_path / "job", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_job_ready_to_close_is_refused_too(tmp_path):
    make_closed_job(tmp_path / "job", close=False)
    with pytest.raises(PackageError, match="nothing more is required but closing"):
        seal(tmp_path / "job", tmp_path / "out")


def test_another_step_list_is_refused(job, tmp_path):
    other = loads(STEP_LIST.replace(b'version = "1.0"', b'version = "1.1"'), "step list")
    with open_record(job) as record, pytest.raises(PackageError, match=r"1\.0, not .* 1\.1"):
        seal_job(record, other, make_key(), tmp_path)


def overwrite(path: Path, data: bytes) -> None:
    path.chmod(0o644)
    path.write_bytes(data)


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data[:100] + bytes([data[100] ^ 1]) + data[101:],
        lambda data: data[:-1],
        lambda data: data + b"\0",
        lambda data: b"",
    ],
    ids=["altered", "cut", "longer", "empty"],
)
def test_a_damaged_original_is_never_sealed(own_job, tmp_path, damage):
    original = an_original(own_job)
    overwrite(original, damage(original.read_bytes()))
    with pytest.raises(PackageError, match=original.name):
        seal(own_job, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_missing_original_is_named(own_job, tmp_path):
    original = an_original(own_job)
    original.unlink()
    with pytest.raises(PackageError, match=original.stem):
        seal(own_job, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_file_in_the_place_of_the_folder_is_a_clear_error(job, tmp_path):
    (tmp_path / "out").write_bytes(b"")
    with pytest.raises(PackageError, match="could not be written"):
        seal(job, tmp_path / "out")


# --- full disk, sudden end ------------------------------------------------------------------


def test_a_full_disk_is_said_and_leaves_nothing(job, tmp_path):
    script = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))\n"
    run = run_seal(job, tmp_path, script + SEAL_SCRIPT)
    assert "StorageFull" in run.stderr
    assert list(tmp_path.iterdir()) == []


KILL_SCRIPT = """
import os, signal, sys
from pathlib import Path
from evidence_app.package.seal import seal_job
from evidence_app.package.verify.check import verify
from evidence_app.photo.preview import maker
from evidence_app.record.derived import Derived
from evidence_app.steplist.load import loads
from tests.making import STEP_LIST, make_key, open_record

def progress(done, total):
    if done >= total * float(os.environ["AT"]):
        os.kill(os.getpid(), signal.SIGKILL)

with open_record(Path(sys.argv[1])) as record:
    seal_job(record, loads(STEP_LIST, ""), make_key(), Path(sys.argv[2]), progress)
"""


@pytest.mark.parametrize("at", ["0", "0.4", "1"])
def test_a_killed_sealing_leaves_no_package_and_can_be_done_again(job, package, tmp_path, at):
    run = run_seal(job, tmp_path, KILL_SCRIPT, AT=at)
    assert run.returncode == -signal.SIGKILL
    assert not (tmp_path / package.name).exists()
    seal(job, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [package.name]
    assert (tmp_path / package.name).read_bytes() == package.read_bytes()


def test_the_package_is_on_the_disk_before_it_has_its_name(job, package, tmp_path):
    if shutil.which("strace") is None:
        pytest.skip("needs strace")
    trace = tmp_path / "trace"
    wanted = ["strace", "-f", "-y", "-e", "trace=write,fsync,rename", "-o", trace]
    command = [*wanted, sys.executable, "-c", SEAL_SCRIPT, job, tmp_path / "out"]
    root = Path(__file__).parents[2]
    if subprocess.run(command, cwd=root, capture_output=True).returncode != 0:
        pytest.skip("needs the right to trace a process")
    lines = [line for line in trace.read_text().splitlines() if str(tmp_path / "out") in line]
    written = max(n for n, line in enumerate(lines) if " write(" in line and ".part>" in line)
    synced = next(n for n, line in enumerate(lines) if "fsync(" in line and ".part>" in line)
    renamed = next(n for n, line in enumerate(lines) if "rename(" in line)
    folder = next(n for n, line in enumerate(lines) if "fsync(" in line and "/out>" in line)
    assert written < synced < renamed < folder


def test_progress_never_goes_back_and_ends_complete(job, tmp_path):
    told = []
    with open_record(job) as record:
        step_list = loads(STEP_LIST, "step list")
        seal_job(record, step_list, make_key(), tmp_path, lambda *pair: told.append(pair))
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]
