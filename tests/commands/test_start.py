"""``evidence-app`` without a command, at a terminal with and without a screen."""

import os
import pty
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def asked(answer: bytes, **environment: str):
    """The program at a terminal into which ``answer`` is typed, and the terminal's other end."""
    here = {**os.environ, "BROWSER": "true", **environment}
    for name in {"DISPLAY", "WAYLAND_DISPLAY"} - environment.keys():
        here.pop(name, None)
    leader, follower = pty.openpty()
    command = [sys.executable, "-m", "evidence_app.cli"]
    running = subprocess.Popen(command, stdin=follower, stdout=follower, stderr=follower, env=here)
    os.close(follower)
    os.write(leader, answer)
    try:
        yield running, leader
    finally:
        running.kill()
        running.wait()
        os.close(leader)


def typed(answer: bytes, until: bytes, **environment: str) -> str:
    """What the terminal shows up to ``until``; no browser is opened."""
    shown = b""
    with asked(answer, **environment) as (_, leader):
        while until not in shown:
            try:
                shown += os.read(leader, 4096)
            except OSError:  # the program has ended and its terminal with it
                break
    return shown.decode("utf-8", "replace")


def test_without_a_screen_the_help_is_shown(tmp_path):
    said = typed(b"", b"Example:", EVIDENCE_APP_HOME=str(tmp_path))
    assert "Usage:" in said and "Who are you" not in said


@pytest.mark.parametrize("user", ["clerk", "supervisor"])
def test_clerk_and_supervisor_get_the_desks_page(tmp_path, user):
    said = typed(f"{user}\n".encode(), b"http://127", EVIDENCE_APP_HOME=str(tmp_path), DISPLAY=":7")
    assert "http://127" in said
    assert ("Stopped, not reviewed" in said) == (user == "supervisor")


def test_the_technician_gets_the_tablets_screens(tmp_path):
    """There is no such screen, so no window appears; the screens' library is loaded for it."""
    with asked(b"technician\n", EVIDENCE_APP_HOME=str(tmp_path), DISPLAY=":7") as (running, _):
        while "/kivy/" not in Path(f"/proc/{running.pid}/maps").read_text():
            assert running.poll() is None
            time.sleep(0.2)


def test_an_answer_that_is_none_of_the_three_is_asked_again(tmp_path):
    said = typed(b"nobody\nclerk\n", b"http://127", EVIDENCE_APP_HOME=str(tmp_path), DISPLAY=":7")
    assert "nobody" in said and "http://127" in said
