"""The largest memory of ``verify`` on packages of several sizes, photos of 12 megapixels.

    python -m tests.bench memory [--megabytes 90 366] [--folder FOLDER]

Each package is checked by a process of its own, whole, with the report's pictures compared.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench._figures import told
from tests.bench.verifying import make_large_package

MOST_MB = 120
# Linux: ru_maxrss of a child would begin with what its parent had.
_CHECK = """
import re, sys
from pathlib import Path
from evidence_app.package.verify.check import verify
status = verify(sys.argv[1]).exit_status
kilobytes = re.search(r"VmHWM:\\s+([0-9]+) kB", Path("/proc/self/status").read_text())[1]
print(status, int(kilobytes) // 1024)
"""


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench memory")
    parser.add_argument("--megabytes", type=int, nargs="+", default=[90, 366])
    parser.add_argument("--folder", type=Path, help="where the packages are made")
    options = parser.parse_args(argv)
    for megabytes in options.megabytes:
        with tempfile.TemporaryDirectory(dir=options.folder) as folder:
            package = make_large_package(Path(folder), megabytes * 1_000_000, (4000, 3000))
            command = [sys.executable, "-c", _CHECK, str(package)]
            said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
            status, most = map(int, said.split())
            size = package.stat().st_size / 1e6
            told(f"peak-at-{size:.0f}-mb", most, "MB")
            print(f"{size:.0f} MB: exit status {status}, at most {most} MB (target {MOST_MB})")
    return 0
