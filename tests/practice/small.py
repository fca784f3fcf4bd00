"""A session script played as ``evidence_app.practice.play`` does, its scenes drawn small and once."""

from __future__ import annotations

import sys

from evidence_app.practice import play
from tests.tablet import rendered


def main(script: str, folder: str) -> int:
    rendered.use()
    sys.argv[1:] = [script, folder]
    return play.main()
