"""Runs of the program that can be killed. Each is a process of its own that has the libraries from
the one that it parts with: loading them is most of what a short run costs.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Iterator
from importlib import import_module


class Nursery:
    """Of runs that need what the modules ``loaded`` load; one run at a time."""

    def __init__(self, *loaded: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.nursery", *loaded],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def begin(self, module: str, *words: object, **environment: str) -> Run:
        """``main(*words)`` of a module, which gives how it ends, None for well."""
        around = {**os.environ, **environment}
        asked = {"module": module, "words": [*map(str, words)], "environment": around}
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        return Run(int(self._process.stdout.readline()), self._process.stdout)

    def end(self) -> None:
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()


_ENDED = "\x04"  # nothing that a run says holds it


class Run:
    """Iterate over the whole lines that it says; ``ended`` then, as ``Popen.returncode``."""

    def __init__(self, process: int, said) -> None:
        self._process, self._said = process, said
        self.ended: int | None = None

    def __iter__(self) -> Iterator[str]:
        for line in self._said:
            # Before it may stand a line that a kill cut in the middle, which was not said then.
            _, ended, how = line.partition(_ENDED)
            if ended:
                self.ended = int(how)
                return
            yield line

    def kill(self) -> None:
        os.kill(self._process, signal.SIGKILL)


def _be_asked() -> None:
    for name in sys.argv[1:]:
        import_module(name)
    for line in sys.stdin:
        begin, begun = os.pipe()  # its number is the first that is said
        run = os.fork()
        if run == 0:
            os.read(begin, 1)
            os._exit(_do(**json.loads(line)))
        print(run, flush=True)
        os.write(begun, b"1")
        ended = os.waitstatus_to_exitcode(os.waitpid(run, 0)[1])
        os.close(begin)
        os.close(begun)
        print(f"{_ENDED}{ended}", flush=True)


def _do(module: str, words: list[str], environment: dict[str, str]) -> int:
    os.environ.clear()
    os.environ.update(environment)
    try:
        ended = import_module(module).main(*words)
        for thread in threading.enumerate():
            if thread is not threading.main_thread() and not thread.daemon:
                thread.join()
    except BaseException:
        traceback.print_exc()
        return 1
    sys.stdout.flush()
    return ended or 0


if __name__ == "__main__":
    _be_asked()
