"""Every reader of what others send, fed with damages for a while.

    python -m tests.bench fuzz --minutes 30 [--reader "step list"]

Prints for each reader how many damages it met, how many it refused, the slowest answer and the
largest memory of the process. A damage that ends otherwise is printed, as small as hypothesis
makes it: enter it into tests/fuzz/corpus.json and mend the reader.
"""

from __future__ import annotations

import argparse
import resource
import time

from hypothesis import HealthCheck, given, seed, settings

from tests.bench._figures import key_of, told
from tests.fuzz.readers import READERS, edits, survives


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench fuzz")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--reader", choices=READERS, action="append")
    options = parser.parse_args(argv)
    met = {name: [0, 0, 0.0] for name in options.reader or READERS}
    end, round_, failed = time.monotonic() + 60 * options.minutes, 0, False
    while time.monotonic() < end:
        round_ += 1
        for name, counts in met.items():
            failed |= _round(name, counts, round_, 3.0)
    for name, (tried, refused, slowest) in met.items():
        key = key_of(name)
        told(f"{key}-damages", tried)
        told(f"{key}-refused", refused, "", tried)
        told(f"{key}-slowest", slowest, "s", tried)
        print(f"{name:<22}{tried:>8} damages {refused:>8} refused, slowest {slowest:.2f} s")
    told("ended-otherwise", int(failed))
    print(f"memory at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB")
    return int(failed)


def _round(name: str, counts: list, number: int, seconds: float) -> bool:
    """New damages for some seconds; whether one of them ended otherwise than it must."""
    end = time.monotonic() + seconds

    @seed(number)
    @settings(max_examples=300, database=None, deadline=None, suppress_health_check=list(HealthCheck))
    @given(edits)
    def once(damage):
        if time.monotonic() > end:
            return
        began = time.monotonic()
        counts[0] += 1
        counts[1] += survives(name, damage)
        counts[2] = max(counts[2], time.monotonic() - began)

    try:
        once()
    except Exception as error:
        notes = "\n".join(getattr(error, "__notes__", []))
        print(f"{name}: {type(error).__name__}: {str(error)[:300]}\n{notes}", flush=True)
        return True
    return False
