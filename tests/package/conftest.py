"""A sound package to check, and a local time authority made with OpenSSL."""

from __future__ import annotations

import subprocess
import zipfile
from pathlib import Path
from typing import NamedTuple

import pytest

from evidence_app.package.keys.keylist import KeyList, open_key_list
from tests.hostile.make import sound_package

_SETTINGS = """\
[tsa]
default_tsa = tsa1
[tsa1]
serial = serial
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha512
accuracy = secs:1
ess_cert_id_alg = sha256
[ca_ext]
basicConstraints = critical, CA:true
keyUsage = critical, keyCertSign
[tsa_ext]
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
"""


class TimeAuthority:
    """An RFC 3161 authority in one folder: root ``ca.pem``, signer issued by it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        (folder / "tsa.cnf").write_text(_SETTINGS)
        (folder / "serial").write_text("01\n")
        self._certificate("ca", "Northquay time root", "ca_ext", ["-days", "3650"])
        issued = ["-days", "365", "-CA", "ca.pem", "-CAkey", "ca.key"]
        self._certificate("tsa", "Northquay time signer", "tsa_ext", issued)
        self.root = (folder / "ca.pem").read_bytes()

    def answer(self, request: bytes, *options: str) -> bytes:
        """The authority's answer to a request (DER both); ``options`` of ``openssl ts``."""
        (self.folder / "q.tsq").write_bytes(request)
        command = "ts -reply -config tsa.cnf -queryfile q.tsq -signer tsa.pem -inkey tsa.key"
        self.openssl(*command.split(), "-out", "a.tsr", *options)
        return (self.folder / "a.tsr").read_bytes()

    def openssl(self, *arguments: str) -> None:
        subprocess.run(["openssl", *arguments], cwd=self.folder, check=True, capture_output=True)

    def _certificate(self, name: str, subject: str, extensions: str, signed: list[str]) -> None:
        command = f"req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -noenc -keyout {name}.key"
        self.openssl(
            *command.split(),
            *("-out", f"{name}.pem", "-subj", f"/CN={subject}", "-config", "tsa.cnf"),
            *("-extensions", extensions, *signed),
        )


@pytest.fixture(scope="session")
def authority(tmp_path_factory) -> TimeAuthority:
    return TimeAuthority(tmp_path_factory.mktemp("time") / "authority")


class Sound(NamedTuple):
    """A package in which every check holds, and its depot's key list."""

    path: Path
    key_list_path: Path
    key_list: KeyList


@pytest.fixture(scope="session")
def sound(tmp_path_factory) -> Sound:
    package, key_list = sound_package(tmp_path_factory.mktemp("sound"))
    return Sound(package, key_list, open_key_list(key_list))


@pytest.fixture
def unpacked(sound, tmp_path) -> Path:
    """The sound package as a folder that a test may change."""
    with zipfile.ZipFile(sound.path) as archive:
        archive.extractall(tmp_path)
    return tmp_path / sound.path.stem
