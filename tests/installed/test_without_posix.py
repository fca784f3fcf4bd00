"""The clerk's parts use nothing that only POSIX systems have.

The names that Python's documentation marks "Availability: Unix" are taken away before the app
is imported; libraries choose by themselves what they use on which system, so they come
first. That shows which of them the app calls, not how another system behaves.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

import evidence_app
from evidence_app.locations import sample
from tests.making import make_package

WITHOUT = """
import json, os, sys, time, signal, subprocess, shutil, tempfile, asyncio, multiprocessing, uuid, platform
for name in ('platformdirs.unix filelock sqlite_utils msgspec numpy cv2 faiss PIL.Image matplotlib.figure '
             'matplotlib.backends.backend_agg cryptography.x509 jinja2 tomlkit rich.console psutil '
             'weasyprint fontTools.subset').split():
    try:
        __import__(name)
    except ImportError:
        pass
for name in ('fork forkpty fchmod fchown chown lchown chroot posix_fallocate posix_fadvise pread pwrite '
             'preadv pwritev getuid geteuid getgid getegid setuid setsid getpgid killpg statvfs '
             'fstatvfs mkfifo mknod sync fdatasync lockf sched_getaffinity nice uname getloadavg '
             'sysconf pathconf O_DIRECTORY').split():
    if hasattr(os, name):
        delattr(os, name)
for name in ('CLOCK_BOOTTIME', 'clock_gettime', 'clock_gettime_ns'):
    if hasattr(time, name):
        delattr(time, name)
for name in ('SIGKILL', 'SIGHUP', 'SIGUSR1', 'alarm', 'setitimer'):
    delattr(signal, name)
for name in ('fcntl', 'pwd', 'grp', 'resource', 'termios', 'tty', 'pty', 'syslog'):
    sys.modules[name] = None
from evidence_app.cli import main
for typed in json.loads(sys.argv[1]):
    try:
        main(typed)
    except SystemExit as ended:
        if ended.code:
            sys.exit(f"{typed} ended with {ended.code}")
    print("done:", typed[0])
"""


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("package")).path


COMMANDS = (
    "verify {package}",
    "desk intake --without-measuring {package}",
    "desk list",
    "desk stops",
    "desk print {package} report.pdf",
    "steps check {steps}",
    "keys --help",
)


def test_a_clerk_s_commands_run(package, tmp_path):
    """One after the other in one process, since the libraries are most of the work."""
    steps = sample("ossmere-h7-window-rebond.toml")
    typed = [[word.format(package=package, steps=steps) for word in words.split()] for words in COMMANDS]
    said = subprocess.run(
        [sys.executable, "-c", WITHOUT, json.dumps(typed)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env={"EVIDENCE_APP_HOME": str(tmp_path / "home"), "PATH": "/usr/bin:/bin"},
    )
    assert said.returncode == 0, said.stdout + said.stderr
    assert said.stdout.count("done:") == len(COMMANDS)


# What Python's documentation marks "Availability: Unix" or "not Windows", in os, signal and time,
# and the modules that exist there only.
_NAMES = frozenset(
    [
        "fork",
        "forkpty",
        "fchmod",
        "fchown",
        "chown",
        "lchown",
        "chroot",
        "fsync",
        "fdatasync",
        "sync",
        "posix_fallocate",
        "posix_fadvise",
        "pread",
        "pwrite",
        "getuid",
        "geteuid",
        "getgid",
        "getegid",
        "setsid",
        "getpgid",
        "killpg",
        "statvfs",
        "fstatvfs",
        "mkfifo",
        "mknod",
        "lockf",
        "sched_getaffinity",
        "uname",
        "getloadavg",
        "sysconf",
        "pathconf",
        "O_DIRECTORY",
        "O_NONBLOCK",
        "O_NOFOLLOW",
        "O_CLOEXEC",
        "SIGKILL",
        "SIGHUP",
        "SIGUSR1",
        "SIGALRM",
        "alarm",
        "setitimer",
        "CLOCK_BOOTTIME",
        "clock_gettime",
        "clock_gettime_ns",
    ]
)
_MODULES = frozenset(("fcntl", "pwd", "grp", "resource", "termios", "tty", "pty", "syslog"))


def _of_posix(path: Path):
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.value.id in ("os", "signal", "time") and node.attr in _NAMES:
                yield f"{node.value.id}.{node.attr}"
        elif isinstance(node, ast.Import):
            yield from (each.name for each in node.names if each.name in _MODULES)
        elif isinstance(node, ast.ImportFrom) and node.module in ("os", "signal", "time", *_MODULES):
            yield from (each.name for each in node.names if {node.module, each.name} & (_NAMES | _MODULES))


def test_one_module_alone_makes_the_calls_that_not_every_system_has():
    top = Path(evidence_app.__file__).parent
    found = {path.name: sorted(used) for path in top.rglob("*.py") if (used := set(_of_posix(path)))}
    assert found.pop("system_calls.py")
    assert found == {}
