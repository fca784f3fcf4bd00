"""What is set at this desk and kept between runs, in one small TOML file."""

from contextlib import suppress
from pathlib import Path

import msgspec
import tomlkit
from msgspec import Struct

from evidence_app import locations
from evidence_app.errors import EvidenceError, turned
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare
from evidence_app.sentence import sentence


class DeskSettings(Struct, frozen=True, rename="kebab"):
    """Names of the people and files of this desk. Empty paths: none, except that of the
    supervisor's own key, which then is the one in the app's own folder."""

    clerk: str = ""
    supervisor: str = ""
    supervisor_key: str = ""
    key_list: str = ""
    time_authority: str = ""
    register: str = ""
    watched_folder: str = ""

    def supervisor_key_path(self) -> Path:
        chosen = self.supervisor_key
        return Path(chosen) if chosen else locations.device_key_path().with_name("supervisor-key.pem")


def load_desk_settings() -> DeskSettings:
    """The settings; the first ones when none were saved. Raises EvidenceError."""
    path = settings_path()
    what = sentence("the desk's settings cannot be read ({problem})")
    remedy = sentence("put the file right or move it away, then start again")
    wrong = (OSError, msgspec.MsgspecError, UnicodeDecodeError)
    with turned(wrong, EvidenceError, what, str(path), remedy), suppress(FileNotFoundError):
        return msgspec.toml.decode(path.read_bytes(), type=DeskSettings)
    return DeskSettings()


def save_desk_settings(settings: DeskSettings) -> None:
    """Raises EvidenceError or StorageFull."""
    path = settings_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    write_durably(path, tomlkit.dumps(msgspec.to_builtins(settings)).encode(), error=EvidenceError)


def settings_path() -> Path:
    return locations.home() / "desk.toml"


prepare(DeskSettings)
