"""What is set at this desk and kept between runs, in one small TOML file."""

from __future__ import annotations

from pathlib import Path

import msgspec
import tomlkit
from msgspec import Struct

from evidence_app import locations
from evidence_app.desk.register import default_path
from evidence_app.errors import EvidenceError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare


class DeskSettings(Struct, frozen=True, rename="kebab"):
    """Names of the people and files of this desk; an empty path means the app's own."""

    clerk: str = ""
    supervisor: str = ""
    supervisor_key: str = ""
    time_authority: str = ""
    register: str = ""

    def register_path(self) -> Path:
        return Path(self.register) if self.register else default_path()

    def supervisor_key_path(self) -> Path:
        chosen = self.supervisor_key
        return Path(chosen) if chosen else locations.keys_folder() / "supervisor-key.pem"


def load_desk_settings() -> tuple[DeskSettings, str | None]:
    """The settings, and a sentence when the file could not be read and is not used."""
    path = _path()
    try:
        return msgspec.toml.decode(path.read_bytes(), type=DeskSettings), None
    except FileNotFoundError:
        return DeskSettings(), None
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError) as error:
        problem = EvidenceError(
            f"the desk's settings cannot be read ({error}); the first ones are used",
            where=str(path),
            remedy="set them again; that writes a new file",
        )
        return DeskSettings(), problem.sentence()


def save_desk_settings(settings: DeskSettings) -> None:
    """Raises EvidenceError or StorageFull."""
    path = _path()
    path.parent.mkdir(parents=True, exist_ok=True)
    write_durably(path, tomlkit.dumps(msgspec.to_builtins(settings)).encode(), error=EvidenceError)


def _path() -> Path:
    return locations.home() / "desk.toml"


prepare(DeskSettings)
