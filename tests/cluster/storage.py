"""A real object storage on loopback: an S3 server over TLS with a key, as an ordinary user."""

from __future__ import annotations

import http.client
import json
import os
import shutil
import socket
import ssl
import subprocess
import sys
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

KEY, SECRET = "NORTHQUAYTESTKEY", "not-a-secret-but-nobody-may-print-it"


class Storage:
    """The server, started; ``environment`` is what a process needs to use it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        make_certificate(folder, "server")
        self._said = (folder / "said.txt").open("wb")
        config = folder / "s3.json"
        may = ["Admin", "Read", "Write", "List"]
        named = {"name": "depot", "credentials": [{"accessKey": KEY, "secretKey": SECRET}], "actions": may}
        config.write_text(json.dumps({"identities": [named]}))
        self.port, *others = free_ports(9)
        names = ("master", "volume", "filer", "s3")
        ports = [f"-{name}.port.grpc={port}" for name, port in zip(names, others, strict=False)]
        ports += [
            f"-{name}.port={port}" for name, port in zip(names, [*others[4:7], self.port], strict=True)
        ]
        self._health = f"http://127.0.0.1:{others[4]}/cluster/status"
        self.process = subprocess.Popen(
            [
                executable(), "-logtostderr=true", "server", f"-dir={folder}", "-ip=127.0.0.1",
                "-ip.bind=127.0.0.1", "-master.telemetry=false", "-master.electionTimeout=1s",
                "-master.volumeSizeLimitMB=64", "-volume.max=20", "-volume.preStopSeconds=0", "-filer",
                f"-filer.localSocket={folder}/filer.sock", "-s3", "-s3.port.iceberg=0",
                "-s3.port.lance=0", f"-s3.localSocket={folder}/s3.sock", f"-s3.config={config}",
                f"-s3.cert.file={folder}/server.pem", f"-s3.key.file={folder}/server.key",
                "-s3.autoCreateBucket=false", "-s3.iam=false", *ports,
            ],
            cwd=folder, stdout=self._said, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.environment = {
            "AWS_ENDPOINT_URL": f"https://127.0.0.1:{self.port}",
            "AWS_ACCESS_KEY_ID": KEY,
            "AWS_SECRET_ACCESS_KEY": SECRET,
            "AWS_CA_BUNDLE": str(folder / "server.pem"),
            "AWS_DEFAULT_REGION": "us-east-1",
        }

    def __enter__(self) -> Storage:
        self.wait()
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()  # asked to end, it takes its time
        self.process.wait()
        self._said.close()

    def wait(self) -> None:
        """Until it makes a bucket: then all its parts are there."""
        from s3fs import S3FileSystem

        os.environ |= self.environment
        while True:
            if self.process.poll() is not None:
                raise RuntimeError((self.folder / "said.txt").read_text()[-2000:])
            try:
                S3FileSystem(skip_instance_cache=True).mkdir("depot")
                return
            except Exception:
                time.sleep(0.2)


def make_certificate(folder: Path, name: str) -> tuple[Path, Path]:
    """A certificate that signs itself, for this computer, and its key."""
    command = "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -noenc -days 3650"
    names = f"-keyout {name}.key -out {name}.pem -subj /CN=localhost -addext subjectAltName=IP:127.0.0.1"
    subprocess.run([*command.split(), *names.split()], cwd=folder, check=True, capture_output=True)
    return folder / f"{name}.pem", folder / f"{name}.key"


def executable() -> str:
    """The server's program, of the environment that the tests run in."""
    beside = Path(sys.executable).with_name("weed")
    found = str(beside) if beside.exists() else shutil.which("weed")
    if found is None:
        raise FileNotFoundError("weed is not installed: sh .ci/setup test")
    return found


def free_ports(count: int) -> list[int]:
    """Ports that nothing listens on, each asked of the system."""
    sockets = [socket.socket() for _ in range(count)]
    for each in sockets:
        each.bind(("127.0.0.1", 0))
    ports = [each.getsockname()[1] for each in sockets]
    for each in sockets:
        each.close()
    return ports


class Busy(ThreadingHTTPServer):
    """The same storage behind a door that answers 503 to every request for a while, by count, as a
    storage does that has too much to do, then lets as many wait as are to be ``slow``; after that
    it passes all on."""

    def __init__(self, storage: Storage, refusals: int, slow: int = 0) -> None:
        super().__init__(("127.0.0.1", 0), _Door)
        self.storage, self.left, self.slow = storage, refusals, slow
        self.environment = storage.environment | {
            "AWS_ENDPOINT_URL": f"http://127.0.0.1:{self.server_address[1]}"
        }

    def handle_error(self, request, client_address) -> None:
        """A worker that is killed leaves its connection."""


class _Door(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: Busy

    def _pass(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        if self.server.left:
            self.server.left -= 1
            return self._answer(503, {}, b"<Error><Code>SlowDown</Code><Message>later</Message></Error>")
        if self.server.slow:
            self.server.slow -= 1
            time.sleep(1)
        trusted = ssl.create_default_context(cafile=self.server.storage.folder / "server.pem")
        behind = http.client.HTTPSConnection("127.0.0.1", self.server.storage.port, context=trusted)
        # With the host that was asked for: the request is signed with it.
        behind.request(self.command, self.path, body, dict(self.headers))
        answer = behind.getresponse()
        kept = {name: value for name, value in answer.getheaders() if name.lower() != "transfer-encoding"}
        self._answer(answer.status, kept, answer.read())
        behind.close()

    do_GET = do_HEAD = do_PUT = do_POST = _pass

    def _answer(self, status: int, headers: dict[str, str], body: bytes) -> None:
        self.send_response_only(status)
        for name, value in ({"Content-Length": str(len(body))} | headers).items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass
