"""Real devices for the tests: a camera server on this machine and a sound server."""

from __future__ import annotations

import os
import shutil
import subprocess
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import cv2
import numpy as np
import pytest

from evidence_app.devices import live
from evidence_app.devices.folder import FolderCamera


def until(condition):
    """Wait for ``condition()`` to become true, however busy the machine is; its value."""
    while not (value := condition()):
        time.sleep(0.01)
    return value


@pytest.fixture(autouse=True)
def patience(monkeypatch):
    """A photo comes when the machine has time; what is to be too late says so itself."""
    for camera in (FolderCamera, live._LiveCamera):
        monkeypatch.setattr(camera.take, "__defaults__", (600.0,))


class MjpegServer:
    """A network camera: each frame is one grey, 8 steps brighter than the one before."""

    def __init__(self) -> None:
        self.port = 0
        self.sent = 0
        self._stalled = threading.Event()
        self._server: ThreadingHTTPServer | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/stream"

    def start(self) -> None:
        camera = self

        class Stream(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                self.send_response(200)
                self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=frame")
                self.end_headers()
                try:
                    while camera._server is self.server:
                        self._send_frame()
                        time.sleep(0.03)
                        while camera._stalled.is_set():
                            time.sleep(0.02)
                except OSError:
                    pass  # the viewer went

            def _send_frame(self) -> None:
                grey = np.full((120, 160, 3), camera.sent * 8 % 256, np.uint8)
                jpeg = cv2.imencode(".jpg", grey)[1].tobytes()
                self.wfile.write(
                    b"--frame\r\nContent-Type: image/jpeg\r\n"
                    b"Content-Length: %d\r\n\r\n%s\r\n" % (len(jpeg), jpeg)
                )
                camera.sent += 1

            def log_message(self, *_) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), Stream)
        self._server.daemon_threads = True
        self.port = self._server.server_port
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def kill(self) -> None:
        server, self._server = self._server, None
        if server:
            server.shutdown()
            server.server_close()

    def stall(self) -> None:
        self._stalled.set()

    def go_on(self) -> None:
        self._stalled.clear()


@pytest.fixture
def mjpeg():
    server = MjpegServer()
    server.start()
    yield server
    server.go_on()
    server.kill()


class SoundServer:
    """PulseAudio with one output that goes nowhere and whose monitor is the microphone."""

    def __init__(self, folder) -> None:
        self._environment = os.environ | {"XDG_RUNTIME_DIR": str(folder)}
        self._server: subprocess.Popen | None = None
        self._silence: subprocess.Popen | None = None

    def start(self) -> None:
        self._server = self._begin(
            "pulseaudio",
            "-n",
            "--daemonize=no",
            "--exit-idle-time=-1",
            "--disable-shm=yes",
            "-L",
            "module-native-protocol-unix auth-anonymous=1",
            "-L",
            "module-null-sink sink_name=vmic rate=48000 channels=1",
            "-L",
            "module-always-sink",
        )
        until(lambda: self._call("pactl", "set-default-source", "vmic.monitor") == 0)
        # The monitor gives sound only while something plays.
        self._silence = self._begin(
            "pacat",
            "--latency-msec=40",
            "--raw",
            "--rate=48000",
            "--channels=1",
            "--format=s16le",
            "/dev/zero",
        )

    def kill(self) -> None:
        for process in (self._silence, self._server):
            process.kill()
            process.wait()

    def play(self, path) -> None:
        assert self._call("paplay", str(path)) == 0

    def _begin(self, *command: str) -> subprocess.Popen:
        return subprocess.Popen(
            command, env=self._environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def _call(self, *command: str) -> int:
        return subprocess.run(command, env=self._environment, capture_output=True).returncode


@pytest.fixture(scope="module")
def sound_server(tmp_path_factory):
    """A running SoundServer that PortAudio sees as this machine's microphone."""
    for program in ("pulseaudio", "pactl", "pacat", "paplay"):
        if not shutil.which(program):
            pytest.skip(f"{program} is not installed; FileMicrophone is tested all the same")
    sounddevice = pytest.importorskip("sounddevice", exc_type=OSError)
    folder = tmp_path_factory.mktemp("sound")
    server = SoundServer(folder)
    server.start()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", str(folder))
        sounddevice._terminate()
        sounddevice._initialize()
        yield server
    server.kill()
