"""What stands in a folder, for choosing packages: folders, packages, disks."""

from __future__ import annotations

from pathlib import Path

from msgspec import Struct

from evidence_app.desk.intake import is_bag
from evidence_app.errors import PackageError
from evidence_app.language import say
from evidence_app.tablet.sealing import removable_disks


class Item(Struct, frozen=True):
    """``kind`` is folder or package."""

    path: Path
    kind: str
    words: str


class Listing(Struct, frozen=True):
    """``up`` is the folder above, None at the top; ``places`` are starting points."""

    folder: Path
    up: Path | None
    places: tuple[Item, ...]
    items: tuple[Item, ...]


def list_folder(folder: Path) -> Listing:
    """Folders first, then packages, each by name. Raises PackageError when it cannot be read."""
    try:
        found = sorted(folder.iterdir(), key=lambda path: path.name.casefold())
        items = [item for path in found if (item := _item(path)) is not None]
    except OSError as error:
        raise PackageError(
            f"the folder cannot be read ({error.strerror})",
            where=str(folder),
            remedy="choose another folder, or put the disk back in",
        ) from error
    items.sort(key=lambda item: item.kind != "folder")
    above = folder.parent
    return Listing(folder, above if above != folder else None, _places(), tuple(items))


def _places() -> tuple[Item, ...]:
    home = Item(Path.home(), "folder", say("Home folder"))
    disks = [
        Item(disk, "folder", say("Disk {name}", name=disk.name))
        for disk in removable_disks(to_write=False)
    ]
    return (home, *disks)


def _item(path: Path) -> Item | None:
    if path.name.startswith("."):
        return None
    if path.is_dir():
        if is_bag(path):
            return Item(path, "package", say("unpacked package"))
        return Item(path, "folder", say("folder"))
    if path.suffix.lower() != ".zip":
        return None
    return Item(path, "package", f"{path.stat().st_size / 1e6:.1f} MB")
