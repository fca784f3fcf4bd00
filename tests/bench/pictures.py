"""The README's picture of the tablet, taken again: python -m tests.bench pictures

The first step of the practice repair, on a screen that nobody sees (Xvfb). Writes
assets/pictures/tablet-step.png.
"""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

PICTURE = Path(__file__).parents[2] / "assets" / "pictures" / "tablet-step.png"


def main(argv: list[str]) -> int:
    program = shutil.which("Xvfb")
    if program is None:
        print("Xvfb is missing: run `sh .ci/setup test`")
        return 2
    reading, writing = os.pipe()
    screen = ("-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp")
    server = subprocess.Popen([program, *screen], pass_fds=(writing,), stderr=subprocess.DEVNULL)
    os.close(writing)
    try:
        with os.fdopen(reading) as pipe, tempfile.TemporaryDirectory() as folder:
            os.environ["DISPLAY"] = f":{pipe.readline().strip()}"
            os.environ["EVIDENCE_APP_HOME"] = folder
            os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
            _take(Path(folder) / "shots")
    finally:
        server.terminate()
        server.wait()
    print(PICTURE)
    return 0


def _take(shots: Path) -> None:
    from tests.tablet.driver import Driver  # opens a window when it is imported

    driver = Driver(shots=shots)
    driver.at_first_step()
    driver.settle()
    driver.look("tablet-step")
    shutil.copy(next(shots.glob("*-tablet-step.png")), PICTURE)
    driver.end()
