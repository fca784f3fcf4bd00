"""A depot's cluster on loopback, made once: object storage over TLS with a key, a Dask scheduler
and two worker processes over TLS. Left out only where the extra is not installed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from tests.cluster.storage import Storage, make_certificate
from tests.hostile.make import sound_package

try:
    import dask.config
    from distributed import Client, Security
    from s3fs import S3FileSystem
except ModuleNotFoundError:
    collect_ignore_glob = ["test_*.py"]

TLS = {
    "ca-file": "DASK_DISTRIBUTED__COMM__TLS__CA_FILE",
    "client.cert": "DASK_DISTRIBUTED__COMM__TLS__CLIENT__CERT",
    "client.key": "DASK_DISTRIBUTED__COMM__TLS__CLIENT__KEY",
}
PROGRAM = [sys.executable, "-c", "from evidence_app.cli import main; main()"]


class Cluster(NamedTuple):
    """``environment`` is the depot's; ``logs`` what scheduler and workers said."""

    scheduler: str
    environment: dict[str, str]
    logs: list[Path]

    def a_worker(self) -> int:
        """The number of the process of one of its workers."""
        authority, certificate, key = (self.environment[name] for name in TLS.values())
        own = Security(tls_ca_file=authority, tls_client_cert=certificate, tls_client_key=key)
        with Client(self.scheduler, security=own, set_as_default=False) as client:
            return next(iter(client.run(os.getpid).values()))

    def started(self, *arguments: str, **environment: str) -> subprocess.Popen:
        """The program, as its user starts it."""
        return subprocess.Popen(
            [*PROGRAM, *arguments], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            env=self.environment | environment,
        )  # fmt: skip

    def says(self, *arguments: str, **environment: str) -> tuple[int, str]:
        """Exit status and all that it printed, typed in this process."""
        S3FileSystem.clear_instance_cache()  # as a new process, which knows only its environment
        environment = self.environment | environment
        read = {f"distributed.comm.tls.{name}": environment[variable] for name, variable in TLS.items()}
        with dask.config.set(read):  # as it is from the environment at the start of a process
            done = CliRunner().invoke(main, arguments, env=environment)
        S3FileSystem.clear_instance_cache()
        assert done.exception is None or isinstance(done.exception, SystemExit), done.exc_info
        return done.exit_code, done.output


@pytest.fixture(scope="session")
def storage(tmp_path_factory) -> Iterator[Storage]:
    with Storage(tmp_path_factory.mktemp("storage")) as storage:
        yield storage


@pytest.fixture(scope="session")
def objects(storage):
    """The storage as a file system of this process."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in storage.environment.items():
            patch.setenv(name, value)
        yield S3FileSystem(use_listings_cache=False)


@contextmanager
def cluster_of(folder: Path, storage: dict[str, str]) -> Iterator[Cluster]:
    """Scheduler and two workers, started; ``storage`` is what its environment says of the storage."""
    certificate, key = make_certificate(folder, "cluster")
    tls = dict(zip(TLS.values(), map(str, (certificate, certificate, key)), strict=True))
    environment = os.environ | storage | tls
    logs = [folder / "scheduler.txt", folder / "workers.txt"]
    program = [sys.executable, "-m", "dask"]
    local = ["--host", "127.0.0.1", "--no-dashboard", "--protocol", "tls"]
    local += ["--tls-ca-file", str(certificate), "--tls-cert", str(certificate), "--tls-key", str(key)]
    started = []

    def start(log: Path, *command: str) -> None:
        with log.open("wb") as said:
            started.append(
                subprocess.Popen([*program, *command, *local], stdout=said, stderr=said, env=environment)
            )

    start(logs[0], "scheduler", "--port", "0")
    while not (found := re.search(r"Scheduler at:\s+(tls://\S+)", logs[0].read_text())):
        assert started[0].poll() is None, logs[0].read_text()
        time.sleep(0.1)
    start(logs[1], "worker", found[1], "--nworkers", "2", "--nthreads", "1")
    try:
        yield Cluster(found[1], environment, logs)
    finally:
        for each in reversed(started):
            each.terminate()
            each.wait()


@pytest.fixture(scope="session")
def cluster(storage, tmp_path_factory) -> Iterator[Cluster]:
    with cluster_of(tmp_path_factory.mktemp("cluster"), storage.environment) as cluster:
        yield cluster


@pytest.fixture(scope="session")
def sealed(tmp_path_factory) -> tuple[Path, Path]:
    """A package in which every check holds, and its depot's key list."""
    return sound_package(tmp_path_factory.mktemp("sealed"))
