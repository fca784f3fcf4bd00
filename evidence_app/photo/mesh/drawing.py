"""The drawing of a strip in its opening: both outlines with their axes, the clearance all
round in colour, the four clearances as numbers, the narrowest of them enlarged.

Everything lies as it appears in the plane of the card's face, in grey and rectified, with
the opening's long axis level.
"""

import numpy as np
from PIL import Image, ImageDraw

from evidence_app.photo import markup_parts as parts
from evidence_app.photo.mesh.measure import MeshSeen
from evidence_app.photo.mesh.stadium import Stadium

_TOP = 96
_MARGIN_MM = 1.6
_DETAIL_HEIGHT, _DETAIL_MM = 300, 3.0  # mm to either side of the narrowest place
_DASH = 14
_CLEARANCES = ("start", "end", "near", "far")


class _Window:
    """A level rectangle of the opening's own coordinates, in mm, at a place on the sheet."""

    def __init__(
        self, opening: Stadium, middle: tuple[float, float], half: float, top: int, height: int
    ) -> None:
        self.opening, self.middle, self.top, self.height = opening, middle, top, height
        self.per_mm = (parts.RIGHT - parts.LEFT) / (2 * half)

    def show(self, sheet: Image.Image, luma: np.ndarray, mesh: MeshSeen) -> None:
        size = parts.RIGHT - parts.LEFT, self.height
        along = (np.arange(size[0]) + 0.5 - size[0] / 2) / self.per_mm + self.middle[0]
        across = (np.arange(size[1]) + 0.5 - size[1] / 2) / self.per_mm + self.middle[1]
        places = self.opening.place(*np.broadcast_arrays(along[None, :], across[:, None]))
        sheet.paste(
            parts.rectified(luma, mesh.pose, places[..., 0], places[..., 1]), (parts.LEFT, self.top)
        )

    def at(self, along: np.ndarray | float, across: np.ndarray | float) -> np.ndarray:
        """Sheet coordinates (..., 2) of own coordinates of the opening."""
        return np.stack(
            [
                (parts.LEFT + parts.RIGHT) / 2 + self.per_mm * (np.asarray(along) - self.middle[0]),
                self.top + self.height / 2 + self.per_mm * (np.asarray(across) - self.middle[1]),
            ],
            axis=-1,
        )

    def of(self, points: np.ndarray) -> np.ndarray:
        """Sheet coordinates (..., 2) of places in the card's mm."""
        return self.at(*self.opening.own(points))

    def draw(self, sheet: Image.Image) -> ImageDraw.ImageDraw:
        """Draws on this window alone, with the sheet's coordinates; see ``done``."""
        self._layer = sheet.copy()
        return ImageDraw.Draw(self._layer)

    def done(self, sheet: Image.Image) -> None:
        box = parts.LEFT, self.top, parts.RIGHT, self.top + self.height
        sheet.paste(self._layer.crop(box), box[:2])


def draw_mesh(luma: np.ndarray, mesh: MeshSeen, at_most: float | None = None) -> bytes:
    """PNG bytes of the drawing, the same for the same measurement."""
    opening = mesh.seen_opening
    half = opening.length / 2 + _MARGIN_MM
    per_mm = (parts.RIGHT - parts.LEFT) / (2 * half)
    high = round(per_mm * (opening.width + 2 * _MARGIN_MM))
    detail_top = _TOP + high + 92
    table_top = detail_top + _DETAIL_HEIGHT + 28
    sheet = Image.new("RGB", (parts.WIDTH, table_top + 190), parts.PAPER)
    draw = ImageDraw.Draw(sheet)
    limit = f"; limit at most {at_most:g} mm" if at_most is not None else ""
    said = (
        f"Strip in its opening: {mesh.values['distance']:.3f} mm from the middle, "
        f"U = {mesh.budgets['distance'].expanded():.3f} mm (k = 2){limit}"
    )
    parts.write(draw, (parts.LEFT, 16), said, size=26)
    widths = mesh.edges.outer - mesh.edges.inner
    clearances = [mesh.values[name] for name in _CLEARANCES]
    top = max(0.1, float(np.percentile(widths, 98)), *clearances)
    _whole(sheet, draw, luma, mesh, _Window(opening, (0, 0), half, _TOP, high), top)
    parts.ramp(sheet, draw, _TOP + high + 12, 0.0, top)
    _narrowest(sheet, draw, luma, mesh, detail_top)
    _table(draw, mesh, table_top)
    return parts.png(sheet)


def _whole(
    sheet: Image.Image,
    draw: ImageDraw.ImageDraw,
    luma: np.ndarray,
    mesh: MeshSeen,
    window: _Window,
    top: float,
) -> None:
    said = (
        "Dots: clearance all round, in colour. Yellow: opening and its axes. Blue, dashed: strip and "
        f"its axes. The card lies {'above' if mesh.side > 0 else 'below'}."
    )
    parts.write(draw, (parts.LEFT, _TOP - 26), said, parts.SOFT)
    window.show(sheet, luma, mesh)
    on = window.draw(sheet)
    _outline(on, window, mesh.seen_opening, parts.MARK, dashed=False)
    _outline(on, window, mesh.seen_strip, parts.SECOND, dashed=True)
    for outline, ink, dashed in (
        (mesh.seen_opening, parts.MARK, False),
        (mesh.seen_strip, parts.SECOND, True),
    ):
        _axes(on, window, outline, ink, dashed)
    edges = mesh.edges
    outside = edges.points + (edges.outer + 0.5)[:, None] * edges.normals
    for (x, y), width in zip(window.of(outside), edges.outer - edges.inner, strict=True):
        on.ellipse(
            (x - 7, y - 7, x + 7, y + 7), fill=parts.colour(width, 0, top), outline=parts.SHADE, width=2
        )
    for name in _CLEARANCES:
        x, y = window.at(*_place(mesh, name, beyond=1.05 if name in ("near", "far") else -1.6))
        _label(on, float(x), float(y), f"{mesh.values[name]:.2f}")
    window.done(sheet)
    parts.bar(draw, parts.LEFT + 14, window.top + window.height - 14, 5 * window.per_mm, "5 mm")


def _place(mesh: MeshSeen, name: str, beyond: float) -> tuple[float, float]:
    """Own coordinates of the opening, ``beyond`` its edge at a clearance."""
    opening = mesh.seen_opening
    along, across = opening.length / 2 + beyond, mesh.side * (opening.width / 2 + beyond)
    return {"start": (-along, 0.0), "end": (along, 0.0), "near": (0.0, -across), "far": (0.0, across)}[name]


def _label(draw: ImageDraw.ImageDraw, x: float, y: float, words: str) -> None:
    draw.rectangle((x - 30, y - 13, x + 30, y + 13), fill=(0, 0, 0))
    parts.write(draw, (x, y), words, parts.PAPER, anchor="mm")


def _line(draw: ImageDraw.ImageDraw, points: np.ndarray, ink: tuple[int, int, int], dashed: bool) -> None:
    """A line through points (N, 2) of the sheet that lie close together."""
    if not dashed:
        parts.outlined(draw, [tuple(p) for p in points.tolist()], ink)
        return
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    for start in np.arange(0, run[-1], 2 * _DASH):
        part = np.linspace(start, min(start + _DASH, run[-1]), 5)
        ends = np.column_stack([np.interp(part, run, points[:, axis]) for axis in (0, 1)])
        parts.outlined(draw, [tuple(p) for p in ends.tolist()], ink)


def _outline(
    draw: ImageDraw.ImageDraw, window: _Window, outline: Stadium, ink: tuple[int, int, int], dashed: bool
) -> None:
    points, _, _ = outline.stations(0.05, 0.05)
    _line(draw, window.of(np.concatenate([points, points[:1]])), ink, dashed)


def _axes(
    draw: ImageDraw.ImageDraw, window: _Window, outline: Stadium, ink: tuple[int, int, int], dashed: bool
) -> None:
    share = np.linspace(-1, 1, 200)
    zero = np.zeros(200)
    for along, across in ((share * outline.length / 2, zero), (zero, share * outline.width / 2)):
        _line(draw, window.of(outline.place(along, across)), ink, dashed)


def _narrowest(
    sheet: Image.Image, draw: ImageDraw.ImageDraw, luma: np.ndarray, mesh: MeshSeen, top: int
) -> None:
    """The least of the four clearances, with the fitted edges."""
    name = min(_CLEARANCES, key=mesh.values.__getitem__)
    window = _Window(
        mesh.seen_opening, _place(mesh, name, -mesh.values[name] / 2), _DETAIL_MM, top, _DETAIL_HEIGHT
    )
    parts.write(
        draw,
        (parts.LEFT, top - 26),
        f"Least clearance ({name}), enlarged, with the fitted edges",
        parts.SOFT,
    )
    window.show(sheet, luma, mesh)
    on = window.draw(sheet)
    for points, ink in ((mesh.edges.outer_points, parts.MARK), (mesh.edges.inner_points, parts.SECOND)):
        for x, y in window.of(points):
            on.ellipse((x - 6, y - 6, x + 6, y + 6), fill=ink, outline=parts.SHADE, width=2)
    _outline(on, window, mesh.seen_opening, parts.MARK, dashed=False)
    _outline(on, window, mesh.seen_strip, parts.SECOND, dashed=True)
    window.done(sheet)
    parts.bar(draw, parts.LEFT + 14, top + _DETAIL_HEIGHT - 14, window.per_mm, "1 mm")


def _table(draw: ImageDraw.ImageDraw, mesh: MeshSeen, top: int) -> None:
    """Every value with its uncertainty, in two columns."""
    names = {
        "along": "offset along (towards the card's right)",
        "across": "offset across (away from the card)",
        "rotation": "rotation (from along towards across)",
        "start": "clearance at the start (card's left)",
        "end": "clearance at the end",
        "near": "clearance near the card",
        "far": "clearance far from the card",
    }
    for number, (name, words) in enumerate(names.items()):
        x = parts.LEFT + (0 if number < 3 else 660)
        y = top + 32 * (number if number < 3 else number - 3)
        value, u = mesh.values[name], mesh.budgets[name].expanded()
        size = (
            f"{value:+.2f}°  U {u:.2f}°"
            if name == "rotation"
            else f"{value:{'+' if number < 3 else ''}.3f} mm  U {u:.3f} mm"
        )
        parts.write(draw, (x, y), words)
        parts.write(draw, (x + 600, y), size, anchor="ra")
