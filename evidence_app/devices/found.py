"""Cameras and microphones that are at this machine, to choose from."""

from pathlib import Path

from msgspec import Struct

_CAMERAS = Path("/sys/class/video4linux")


class FoundDevice(Struct, frozen=True):
    """``spec`` as ``open_camera`` or ``open_microphone`` takes it; ``name`` as the system does."""

    spec: str
    name: str


def cameras(folder: Path = _CAMERAS) -> tuple[FoundDevice, ...]:
    """By the numbers that the system gave them. A device that has several (pictures, then
    data beside them) takes pictures with its first, which is named here alone."""
    numbered = sorted(
        (int(path.name.removeprefix("video")), path)
        for path in folder.glob("video*")
        if path.name.removeprefix("video").isdigit()
    )
    return tuple(
        FoundDevice(f"camera:{number}", _line(path / "name") or f"camera {number}")
        for number, path in numbered
        if _line(path / "index") in ("", "0")
    )


def microphones() -> tuple[FoundDevice, ...]:
    """The system's own choice first. Raises DeviceError where there is no way to ask."""
    from evidence_app.devices import portaudio

    names = dict.fromkeys(portaudio.microphones())
    return (FoundDevice("microphone", ""), *(FoundDevice(f"microphone:{name}", name) for name in names))


def _line(path: Path) -> str:
    try:
        return path.read_text("utf-8", "replace").strip()
    except OSError:
        return ""
