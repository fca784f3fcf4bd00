"""A few photos and notes, each told when it is committed; an error ends it in its sentence.

python -m tests.kill.some_work FOLDER
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from tests.kill.worker import SOURCE, base_photo, numbered, opened, say

PHOTOS = 4
_PAUSE_S = 0.8 if os.environ.get("FAULT") in ("back", "at") else 0.0
"""Between photos, so that a clock that begins two seconds before it is put back meets it."""


def main() -> int:
    photo = base_photo()
    try:
        with opened(Path(sys.argv[1])) as job:
            for event in job.record.events:
                say("event", event.sequence, event.hash)
            for number in range(1, PHOTOS + 1):
                commands = (
                    *([c.GoOn()] if job.state.phase == "preparing" else []),
                    c.TakePhoto(numbered(photo, number), None, "note", SOURCE),
                    c.WriteNote(f"note {number}"),
                )
                for command in commands:
                    for event in job.do(command):
                        say("event", event.sequence, event.hash)
                time.sleep(_PAUSE_S)
    except EvidenceError as error:
        print(error.sentence(), file=sys.stderr)
        return error.exit_status
    return 0


if __name__ == "__main__":
    sys.exit(main())
