"""The README's pictures, taken again: python -m tests.bench pictures

The tablet at the first step of the practice repair, on a screen that nobody sees (Xvfb), and the
desk's page in a browser, after the demo: the package with an altered photo, and the review of the
stopped repair. Writes the files of assets/pictures.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from urllib.parse import urljoin

from playwright.sync_api import sync_playwright

PICTURES = Path(__file__).parents[2] / "assets" / "pictures"
APP = Path(sys.executable).with_name("evidence-app")
SIZE = {"width": 1280, "height": 800}


def main(argv: list[str]) -> int:
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    if chromium is None or shutil.which("Xvfb") is None:
        print("chromium or Xvfb is missing: run `sh .ci/setup test`")
        return 2
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"EVIDENCE_APP_HOME": str(Path(folder) / "home"), "LANGUAGE": "en"}
        _desk(Path(folder), chromium)
        _on_a_screen(_tablet, Path(folder) / "shots")
    for path in sorted(PICTURES.glob("*.png")):
        print(path)
    return 0


def _desk(folder: Path, chromium: str) -> None:
    subprocess.run([APP, "demo"], cwd=folder, check=True, stdout=subprocess.DEVNULL)
    made = folder / "demo-packages"
    packages = [*sorted(made.glob("*.zip")), *sorted((made / "altered").glob("*.zip"))]
    register = ("--register", folder / "register.db")
    subprocess.run([APP, "desk", *register, "intake", "--practice", *packages], stdout=subprocess.DEVNULL)
    page = [APP, "desk", *register, "--practice", "--by", "desk 2", "--no-browser"]
    served = subprocess.Popen(page, stdout=subprocess.PIPE, text=True)
    try:
        with sync_playwright() as started:
            browser = started.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            tab = browser.new_page(viewport=SIZE)
            tab.goto(served.stdout.readline().strip())
            stopped = next(n for n, path in enumerate(packages, 1) if "0342" in path.name)
            for address, name in ((f"{len(packages)}", "altered"), (f"{stopped}/review", "review")):
                tab.goto(urljoin(tab.url, f"/package/{address}"))
                tab.wait_for_load_state("networkidle")
                tab.screenshot(path=PICTURES / f"desk-{name}.png")
            browser.close()
    finally:
        served.terminate()
        served.wait()


def _on_a_screen(take, shots: Path) -> None:
    reading, writing = os.pipe()
    screen = ("-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp")
    server = subprocess.Popen(["Xvfb", *screen], pass_fds=(writing,), stderr=subprocess.DEVNULL)
    os.close(writing)
    try:
        with os.fdopen(reading) as pipe:
            os.environ["DISPLAY"] = f":{pipe.readline().strip()}"
            os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
            take(shots)
    finally:
        server.terminate()
        server.wait()


def _tablet(shots: Path) -> None:
    from tests.tablet.driver import Driver  # opens a window when it is imported

    driver = Driver(shots=shots)
    driver.at_first_step()
    driver.settle()
    driver.look("tablet-step")
    shutil.copy(next(shots.glob("*-tablet-step.png")), PICTURES / "tablet-step.png")
    driver.end()
