"""What is set on this tablet and kept between runs, in one small TOML file."""

from pathlib import Path
from typing import Literal

import msgspec
import tomlkit
from msgspec import Struct

from evidence_app import locations
from evidence_app.errors import EvidenceError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare
from evidence_app.sentence import sentence

TEXT_SIZES = (100, 125, 150, 175, 200)


class Settings(Struct, frozen=True, rename="kebab"):
    """``camera`` and ``microphone`` are names as ``evidence-app devices`` takes them.

    ``theme``: "bright" is for sunlight. ``text_size`` in percent; ``pixels_per_mm`` of the screen
    as measured on it, 0: as it says itself; ``package_folder`` and
    ``key_list`` empty: the app's own folder, and no key list. ``sound`` and ``vibration``: the
    signal at the end of a hold.
    ``spoken``: what is said aloud; ``speech_speed`` in words a minute, ``speech_volume``
    from 0 to 100. ``note_ends``: a spoken note ends by itself after a long quiet.
    ``reasons``: those typed last for each thing that a reason is asked for, the newest first.
    """

    camera: str = "camera:0"
    microphone: str = "microphone"
    language: str = "en"
    text_size: int = 100
    pixels_per_mm: float = 0.0
    theme: Literal["dark", "bright"] = "dark"
    practice: bool = False
    technician: str = ""
    package_folder: str = ""
    key_list: str = ""
    sound: bool = True
    vibration: bool = True
    listening: bool = True
    spoken: Literal["all", "answers", "off"] = "all"
    speech_speed: int = 150
    speech_volume: int = 100
    transcripts: bool = True
    note_ends: bool = True
    reasons: dict[str, tuple[str, ...]] = {}

    def packages(self) -> Path:
        return Path(self.package_folder) if self.package_folder else locations.home() / "packages"


def settings_path() -> Path:
    return locations.home() / "tablet.toml"


def load_settings() -> tuple[Settings, str | None]:
    """The settings, and a sentence when the file could not be read and is not used."""
    path = settings_path()
    try:
        return msgspec.toml.decode(path.read_bytes(), type=Settings), None
    except FileNotFoundError:
        return Settings(), None
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError) as error:
        problem = EvidenceError(
            sentence("the settings cannot be read ({error}); the first ones are used", error=error),
            where=str(path),
            remedy=sentence("set them again; that writes a new file"),
        )
        return Settings(), problem.sentence()


def save_settings(settings: Settings) -> None:
    """Raises EvidenceError or StorageFull."""
    path = settings_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    text = tomlkit.dumps(msgspec.to_builtins(settings))
    write_durably(path, text.encode(), error=EvidenceError)


prepare(Settings)
