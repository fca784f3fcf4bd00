"""Scenes by name: ``seam?gap_mm=0.12&seed=38`` is a picture and its truth.

Every scene knows the keys of the photo (COMMON and the fields of Conditions) and
its own; a key that is not known is refused, so that a script cannot be wrong
unnoticed. ``take`` gives another photo of the same thing.
"""

from collections.abc import Callable
from typing import TypeVar
from urllib.parse import parse_qsl

import msgspec
import numpy as np
from msgspec import Struct
from msgspec.structs import asdict, fields, replace

from evidence_app.errors import DeviceError, turned
from evidence_app.practice.optics import Conditions
from evidence_app.practice.scenes import scenes
from evidence_app.practice.scenes.card import CardTruth
from evidence_app.practice.scenes.mesh import Mesh
from evidence_app.practice.scenes.seam import Seam
from evidence_app.practice.scenes.slot import random_slot, random_spots
from evidence_app.prepared import prepare
from evidence_app.sentence import sentence

Keys = dict[str, str]


class Common(Struct, frozen=True, forbid_unknown_fields=True):
    """Keys of every scene. ``megapixels`` of a picture of 4 to 3; ``close`` shows a
    part larger, ``steady = 1`` leaves out the small tilt and roll of a hand."""

    seed: int = 1
    take: int = 0
    megapixels: float = 3.0
    card: int = 1
    close: int = 0
    steady: int = 0
    serial: str = "H7-204-11873"


Maker = Callable[[Keys, Common], scenes.Scene]


def scene_of(written: str) -> scenes.Scene:
    """The scene that ``name?key=value&key=value`` names.

    Raises DeviceError for a name, key or value that there is not.
    """
    name, _, rest = written.strip().partition("?")
    if name not in _MAKERS:
        what = sentence("there is no practice scene “{name}”", name=name)
        raise DeviceError.none_of(sorted(_MAKERS), what, written)
    keys = dict(parse_qsl(rest, keep_blank_values=True))
    what, remedy = sentence("the practice scene cannot be made: {error}"), sentence("correct that key")
    with turned(ValueError, DeviceError, what, written, remedy):  # msgspec's errors are such too
        return _MAKERS[name](keys, _take(keys, Common))


Kind = TypeVar("Kind", bound=Struct)


def with_key(written: str, key: str) -> str:
    """A written scene with one more ``key=value``."""
    return f"{written}{'&' if '?' in written else '?'}{key}"


def _take(keys: Keys, kind: type[Kind], **renamed: str) -> Kind:
    """Takes the keys that ``kind`` knows out of ``keys``; ``renamed`` gives the field
    that a key of another name stands for."""
    known = {field.name for field in fields(kind)}
    chosen = {}
    for key in list(keys):
        field = renamed.get(key, key)
        if field in known:
            chosen[field] = keys.pop(key)
    return msgspec.convert(chosen, kind, strict=False)


def _changed(keys: Keys, calm: Kind) -> Kind:
    """``calm`` with what the keys set to anything but the usual."""
    kind = type(calm)
    given, usual = asdict(_take(keys, kind)), asdict(kind())
    return replace(calm, **{name: value for name, value in given.items() if value != usual[name]})


def _count(keys: Keys, name: str, default: int) -> int:
    return int(float(keys.pop(name, default)))


def _choice(keys: Keys, name: str, *allowed: str) -> str:
    """The value of a key, the first of ``allowed`` when it is not given."""
    value = keys.pop(name, allowed[0])
    if value not in allowed:
        raise ValueError(f"{name} must be one of {', '.join(allowed)}, not “{value}”")
    return value


def _photo(keys: Keys, common: Common) -> Conditions:
    """Conditions of a careful photo, with what the keys change."""
    width = round((common.megapixels * 1e6 * 4 / 3) ** 0.5 / 16) * 16
    if not 320 <= width <= 8000:
        raise ValueError(f"megapixels must lie between 0.1 and 48, not {common.megapixels}")
    rng = np.random.default_rng([common.seed, 9, common.take])
    calm = scenes.good_conditions(rng, width, width * 3 // 4, tilt_deg=3.5)
    calm = replace(
        calm,
        roll_deg=calm.roll_deg / 2,
        contrast=0.15,
        jpeg_quality=92,
        sharpen=min(calm.sharpen, 0.5),
        noise=min(calm.noise, 2.2),
    )
    if common.steady:
        calm = replace(calm, roll_deg=0.0, tilt_x_deg=0.0, tilt_y_deg=0.0)
    if common.close:
        calm = replace(calm, field_mm=calm.field_mm * 0.62)
    return _changed(keys, calm)


def _ready(keys: Keys, common: Common) -> tuple[Conditions, CardTruth | None]:
    """Photo and card; afterwards no key may be left over."""
    conditions = _photo(keys, common)
    card = _take(
        keys,
        CardTruth,
        card_serial="serial",
        card_thickness_mm="thickness_mm",
        card_print_scale="print_scale",
    )
    if keys:
        raise ValueError(f"the key “{next(iter(keys))}” is not known here")
    return conditions, card if common.card else None


def _seam(keys: Keys, common: Common) -> scenes.Scene:
    seam = _take(keys, Seam, gap_mm="width_mm")
    conditions, card = _ready(keys, common)
    return scenes.seam_scene(common.seed, seam, conditions, card, common.take)


def _leaf(keys: Keys, common: Common) -> scenes.Scene:
    """A seam as wide as the leaf that is pushed into it."""
    leaf = float(keys.get("leaf_mm", 0.10))
    return _seam({**keys, "leaf_mm": f"{leaf}", "gap_mm": f"{max(leaf, 0.08)}", "lift_mm": "0"}, common)


def _mesh(keys: Keys, common: Common) -> scenes.Scene:
    side = _choice(keys, "side", "left", "right")
    rng = np.random.default_rng([common.seed, 10])
    well = Mesh(
        offset_along_mm=float(rng.uniform(-0.15, 0.15)),
        offset_across_mm=float(rng.uniform(-0.08, 0.08)),
        rotation_deg=float(rng.uniform(-0.25, 0.25)),
        x_mm=-9.0 if side == "left" else 9.0,
    )
    mesh = _changed(keys, well)
    conditions, card = _ready(keys, common)
    return scenes.mesh_scene(common.seed, mesh, conditions, card, common.take)


def _slot(keys: Keys, common: Common) -> scenes.Scene:
    side = _choice(keys, "side", "left", "right")
    stage = _choice(keys, "stage", "before", "after", "lining")
    deposits = _count(keys, "residue", 0)
    conditions, card = _ready(keys, common)
    made = np.random.default_rng([common.seed, 3])
    slot = replace(random_slot(made), x_mm=-7.0 if side == "left" else 7.0)
    if stage == "lining":
        slot = replace(slot, felt_light=slot.felt_light * 1.5)
    spots = random_spots(
        np.random.default_rng([common.seed, 5]),
        slot,
        3 * deposits,
        surfaces=("floor", "floor", "rim"),
        diameter=(1.2, 2.6),
        contrast=(0.35, 0.6),
    )
    if common.close:
        conditions = replace(conditions, shift_x_mm=slot.x_mm, shift_y_mm=6.0)
    # Another stage is another photo, made later from another place.
    take = common.take + {"before": 0, "lining": 0, "after": 500}[stage]
    if stage == "after":
        sway = np.random.default_rng([common.seed, 11, common.take])
        conditions = replace(
            conditions,
            shift_x_mm=conditions.shift_x_mm + sway.uniform(-1.5, 1.5),
            tilt_x_deg=conditions.tilt_x_deg + sway.uniform(-1.5, 1.5),
            exposure=conditions.exposure + sway.uniform(-0.1, 0.1),
        )
    return scenes.slot_scene(common.seed, spots, take, slot, conditions, card)


def _spacers(keys: Keys, common: Common) -> scenes.Scene:
    _choice(keys, "side", "left", "right")
    count = _count(keys, "count", 2)
    missing = _count(keys, "missing", 0)
    plug = _choice(keys, "plug", "seated", "off")
    if count not in (2, 3) or not 0 <= missing <= count:
        raise ValueError("count must be 2 or 3, and missing at most that many")
    conditions, _ = _ready(keys, common)
    absent = ["second", "first", "middle"][:missing]
    if count == 2:
        absent += [part for part in ("middle", "middle-post") if part not in absent]
    if plug == "off":
        absent.append("plug")
    return scenes.device_scene(
        "antenna", common.seed, conditions, tuple(absent), common.serial, common.take
    )


def _whole(view: str, *absent: str, exposure: float = 0.1) -> Maker:
    """A scene that has no keys of its own; ``exposure`` is what a camera's automatic
    exposure adds where nothing white is in the picture."""

    def make(keys: Keys, common: Common) -> scenes.Scene:
        conditions, _ = _ready(keys, common)
        conditions = replace(conditions, exposure=conditions.exposure + exposure)
        return scenes.device_scene(view, common.seed, conditions, absent, common.serial, common.take)

    return make


_MAKERS: dict[str, Maker] = {
    "back": _whole("back"),
    "bed": _whole("front", "window", "picture", exposure=1.2),
    "front": _whole("front", "picture", exposure=1.2),
    "leaf": _leaf,
    "mesh": _mesh,
    "picture": _whole("front"),
    "plate": _whole("plate"),
    "seam": _seam,
    "slot": _slot,
    "slots-open": _whole("back", "stand"),
    "spacers": _spacers,
    "stand": _whole("back", "folded"),
    "tray": _whole("tray", "cell"),
    "tray-full": _whole("tray"),
}


prepare(Common, Conditions, CardTruth, Seam, Mesh)
