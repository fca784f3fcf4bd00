"""The checker page with a large package in a real browser: memory and time.

    python -m tests.bench checker [--megabytes 500] [--rounds 3] [--folder FOLDER]

Two packages: a true one of many photos of 5 MB, which go through WebCrypto, and one
in which a single photo has nearly all bytes, which goes through the page's own
SHA-256 in pieces. Memory is the largest resident set, over samples taken each 30 ms,
of the renderer process in which page and worker run, the browser's own libraries
included; the same is told for the page before it gets a package. Time is compared with bare hashlib
over the same bytes in the same run. Linux only: it reads /proc.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import tempfile
import threading
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from evidence_app.locations import asset
from evidence_app.package.zip.writing import entry_info
from tests.bench._figures import compared, middle, told
from tests.bench.verifying import file_spans, hash_read, make_large_package

SAMPLE_S = 0.03
LIMIT_MB = 300
CHUNK = 1 << 20


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench checker")
    parser.add_argument("--megabytes", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--folder", type=Path, help="where the packages are made")
    options = parser.parse_args(argv)
    size = options.megabytes * 1_000_000
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        many = make_large_package(Path(folder) / "many", size)
        one = with_one_large_file(many, Path(folder) / "one.zip", size)
        print(f"{'':<14}{'files':>6}{'MB':>7}{'seconds':>9}{'MB/s':>7}{'hashlib':>9}"
              f"{'ratio':>7}{'peak MB':>9}{'before':>8}")  # fmt: skip
        for name, package in (("many photos", many), ("one file", one)):
            row(name, package, options.rounds)
    print(
        f"peak: resident set of the page's renderer; limit {LIMIT_MB} MB. ratio: to bare hashlib, 2 threads"
    )
    return 0


def with_one_large_file(package: Path, out: Path, size: int) -> Path:
    """The package with its first photo grown to ``size`` bytes and the others left out."""
    with zipfile.ZipFile(package) as source, zipfile.ZipFile(out, "w") as target:
        photos = [info for info in source.infolist() if "/data/photos/" in info.filename]
        for info in source.infolist():
            if info in photos[1:]:
                continue
            grown = size if info is photos[0] else info.file_size
            with target.open(entry_info(info.filename, grown, info.date_time), "w") as entry:
                if info is not photos[0]:
                    entry.write(source.read(info))
                    continue
                for at in range(0, size, CHUNK):
                    entry.write(os.urandom(min(CHUNK, size - at)))
    return out


def row(name: str, package: Path, rounds: int) -> None:
    spans = file_spans(package)
    megabytes = sum(size for _, size in spans) / 1e6
    page_s, bare_s, peaks, befores = [], [], [], []
    for _ in range(rounds):
        bare_s.append(timed(lambda: hash_read(package, spans)))
        seconds, before, peak = check_once(package)
        page_s.append(seconds)
        peaks.append(peak)
        befores.append(before)
    taken, bare = statistics.median(page_s), statistics.median(bare_s)
    key = name.replace(" ", "-")
    middle(key, page_s, "s")
    compared(f"{key}-ratio", page_s, bare_s)
    told(f"{key}-peak", max(peaks), "MB", rounds)
    print(f"{name:<14}{len(spans):>6}{megabytes:>7.0f}{taken:>9.2f}{megabytes / taken:>7.0f}"
          f"{bare:>9.2f}{taken / bare:>7.1f}{max(peaks):>9.0f}{max(befores):>8.0f}")  # fmt: skip


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def check_once(package: Path) -> tuple[float, float, float]:
    """Seconds from choosing the file to the result; renderer memory before and at most, in MB."""
    with sync_playwright() as playwright:
        chromium = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(asset("checker.html").as_uri())
        page.wait_for_timeout(500)
        before = renderer_mb()
        with Sampler() as sampler:
            seconds = timed(lambda: _give(page, package))
        browser.close()
    return seconds, before, sampler.peak


def _give(page: Page, package: Path) -> None:
    page.set_input_files("#package", package)
    page.wait_for_function("() => window.checkResult", timeout=600_000)
    if page.evaluate("() => window.checkResult.verdict") == "unreadable":
        raise RuntimeError("the package was to be read to its end")


class Sampler(threading.Thread):
    """Looks at the renderer's memory while the work runs."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.peak = 0.0
        self._over = threading.Event()

    def __enter__(self) -> Sampler:
        self.start()
        return self

    def __exit__(self, *failure: object) -> None:
        self._over.set()
        self.join()

    def run(self) -> None:
        while not self._over.wait(SAMPLE_S):
            self.peak = max(self.peak, renderer_mb())


def renderer_mb() -> float:
    """Resident memory of the largest renderer process below this process, in MB.

    The browser keeps an empty spare one, which is always smaller than the page's.
    """
    parents = {int(p.name): _parent(p) for p in Path("/proc").iterdir() if p.name.isdigit()}
    largest = 0
    for pid in parents:
        above = pid
        while above and above != os.getpid():
            above = parents.get(above, 0)
        if above and pid != os.getpid():
            largest = max(largest, _renderer_bytes(Path(f"/proc/{pid}")))
    return largest / 1e6


def _parent(process: Path) -> int:
    try:
        return int((process / "stat").read_text().rpartition(")")[2].split()[1])
    except (OSError, IndexError):
        return 0


def _renderer_bytes(process: Path) -> int:
    try:
        if b"--type=renderer" not in (process / "cmdline").read_bytes():
            return 0
        return int((process / "statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, IndexError):
        return 0
