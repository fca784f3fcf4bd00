"""Types are worked out before threads decode them: two at once would crash the process."""

import re
import subprocess
import sys
from pathlib import Path

import evidence_app

SOURCES = [path.read_text() for path in sorted(Path(evidence_app.__file__).parent.rglob("*.py"))]
DECODED = re.compile(r"msgspec\.(?:json\.decode\(.*type=|convert\(.*, )([A-Z_]\w*)\)")
PREPARED = re.compile(r"^prepare\(([^)]*)\)", re.MULTILINE)

RUNS = 8
TWO_AT_ONCE = """
import sys, threading
from evidence_app.photo.card.layout import card_layout
sys.setswitchinterval(1e-6)
together = threading.Barrier(4)
def begin():
    together.wait()
    card_layout.__wrapped__()
threads = [threading.Thread(target=begin) for _ in range(4)]
for thread in threads: thread.start()
for thread in threads: thread.join()
"""


def test_threads_may_be_the_first_to_read_the_card_layout():
    """Without preparing, about two runs of three ended with a segmentation fault."""
    ended = [subprocess.run([sys.executable, "-c", TWO_AT_ONCE]).returncode for _ in range(RUNS)]
    assert ended == [0] * RUNS


def test_every_type_that_is_decoded_is_prepared_somewhere():
    decoded = {name for text in SOURCES for name in DECODED.findall(text)}
    prepared = {
        name.strip() for text in SOURCES for names in PREPARED.findall(text) for name in names.split(",")
    }
    assert len(decoded) > 8, "the search for decoded types no longer finds them"
    assert not decoded - prepared
