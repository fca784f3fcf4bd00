"""Writes which commit a wheel or source archive was built from into it.

Without a repository (a wheel built from the source archive) the file that the archive
brought stays as it is.
"""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class Release(BuildHookInterface):
    """Used by the build only; the app reads the file in ``evidence_app/release.py``."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":
            return  # the checkout is asked itself
        told = Path(self.root) / "evidence_app" / "commit.txt"
        commit = self._commit()
        if commit is not None:
            self._folder = tempfile.TemporaryDirectory()
            told = Path(self._folder.name) / told.name
            told.write_text(f"{commit}\n", "ascii")
        if told.is_file():
            build_data["force_include"][str(told)] = "evidence_app/commit.txt"

    def _commit(self) -> str | None:
        if not (Path(self.root) / ".git").exists():
            return None
        commit = self._git("rev-parse", "--short=12", "HEAD")
        return f"{commit}.changed" if self._git("status", "--porcelain", "--untracked-files=no") else commit

    def _git(self, *asked: str) -> str:
        command = ["git", "--no-optional-locks", "-C", self.root, *asked]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()
