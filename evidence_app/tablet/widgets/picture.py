"""Pictures: the live one, cheap to draw, and a photo at full detail to be moved and zoomed."""

from typing import Any

import cv2
from kivy.clock import Clock
from kivy.graphics import Color, Line, Rectangle
from kivy.graphics.texture import Texture
from kivy.graphics.transformation import Matrix
from kivy.metrics import dp
from kivy.properties import BooleanProperty
from kivy.uix.scatter import Scatter
from kivy.uix.stencilview import StencilView
from kivy.uix.widget import Widget

from evidence_app.tablet.widgets.paint import paint

_TILE = 1024
_PREVIEW_PIXELS = 960 * 540
_CLOSEST = 8.0  # pixels of the screen for one of the photo


class LivePicture(Widget):
    """``show(frame)`` paints an (H, W, 3) uint8 BGR picture, fitted, in a framing outline; a
    ``grey`` one is darkened, since it shows nothing of now."""

    grey = BooleanProperty(False)

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self._texture: Texture | None = None
        self.frames = 0
        self.bind(pos=self._place, size=self._place)
        with self.canvas:
            paint("well")
            self._well = Rectangle()
            self._light = Color(1, 1, 1, 1)
            self._picture = Rectangle()
            paint("over")
            self._corners = [Line(width=dp(2)) for _ in range(4)]
            self._ring = Line(width=dp(3))
        self._aim: tuple[float, float, float] | None = None
        self._place()

    def on_grey(self, _, grey: bool) -> None:
        self._light.rgb = (0.35, 0.35, 0.35) if grey else (1, 1, 1)

    def show(self, frame) -> None:
        """Drawing area is what costs: large frames are halved until they are small enough."""
        height, width = frame.shape[:2]
        while width * height > _PREVIEW_PIXELS * 1.2:
            width, height = width // 2, height // 2
        if width != frame.shape[1]:
            frame = cv2.resize(frame, (width, height), interpolation=cv2.INTER_LINEAR)
        if self._texture is None or self._texture.size != (width, height):
            self._texture = self._picture.texture = texture_of(frame)
            self._place()
        else:
            self._texture.blit_buffer(frame.reshape(-1), colorfmt="bgr", bufferfmt="ubyte")
        self.frames += 1
        self.canvas.ask_update()

    def ring(self, at: tuple[float, float] | None, right: bool) -> None:
        """A ring about what the camera stands straight above (``at`` from the top left, in parts
        of the picture); small once that is right."""
        self._aim = at and (*at, dp(14 if right else 28))
        self._place()

    def _place(self, *_) -> None:
        self._well.pos, self._well.size = self.pos, self.size
        if self._texture is None:
            self._picture.size = (0, 0)
            return
        width, height = self._texture.size
        scale = min(self.width / width, self.height / height)
        size = (width * scale, height * scale)
        pos = (self.x + (self.width - size[0]) / 2, self.y + (self.height - size[1]) / 2)
        self._picture.size, self._picture.pos = size, pos
        self._frame_corners(*pos, *size)
        self._ring.points = []
        if self._aim is not None:
            across, down, radius = self._aim
            self._ring.circle = (pos[0] + across * size[0], pos[1] + (1 - down) * size[1], radius)

    def _frame_corners(self, x, y, width, height) -> None:
        inset_x, inset_y = width * 0.08, height * 0.08
        arm = min(width, height) * 0.12
        left, right = x + inset_x, x + width - inset_x
        low, high = y + inset_y, y + height - inset_y
        for line, (cx, cy, dx, dy) in zip(
            self._corners,
            ((left, low, 1, 1), (right, low, -1, 1), (left, high, 1, -1), (right, high, -1, -1)),
            strict=True,
        ):
            line.points = [cx + dx * arm, cy, cx, cy, cx, cy + dy * arm]


def texture_of(pixels) -> Texture:
    """Of an (H, W, 3) uint8 BGR picture."""
    texture = Texture.create(size=(pixels.shape[1], pixels.shape[0]), colorfmt="bgr")
    texture.flip_vertical()
    texture.blit_buffer(pixels.tobytes(), colorfmt="bgr", bufferfmt="ubyte")
    return texture


class PhotoPane(StencilView):
    """A photo in tiles, uploaded one a frame; moved by one finger, zoomed by two.

    It cannot be lost: it is never smaller than whole, and its edges do not leave the pane's
    while it is larger. The pane ``beside`` it, if any, shows the same part of its own photo."""

    beside: "PhotoPane | None" = None

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self._scatter = _Sheet(self)
        self._scatter.bind(on_transform_with_touch=lambda *_: self._moved())
        self._waiting: list[tuple] = []
        self._photo: Any = None  # (H, W, 3) uint8
        self.add_widget(self._scatter)
        self.bind(size=lambda *_: self._placed(), pos=lambda *_: self._placed())
        self._uploading = Clock.create_trigger(self._upload, 0)

    def show(self, photo) -> None:
        """``photo``: (H, W, 3) uint8 BGR, kept at full detail."""
        self._photo = photo
        height, width = photo.shape[:2]
        self._scatter.canvas.clear()
        self._scatter.size = (width, height)
        self._waiting = [(x, y) for y in range(0, height, _TILE) for x in range(0, width, _TILE)]
        self._show_whole()
        if self.beside is not None:
            self._show_as(self.beside)
        self._uploading()

    def clear(self) -> None:
        """Let go of the photo: at full detail it takes as much again on the graphics side."""
        self._photo, self._waiting = None, []
        self._scatter.canvas.clear()

    def _placed(self) -> None:
        """The pane's place changed, as when a notice above it ends: a photo that was zoomed
        stays as it is seen."""
        scale = self._whole_scale()
        if scale is None or self._scatter.scale <= 1.001 * max(scale, self._scatter.scale_min):
            self.whole()
        else:
            self._scatter.scale_min = scale
            self._moved()

    def _whole_scale(self) -> float | None:
        """At which the photo just fits; None while there is none or the screen is laid out."""
        if self._photo is None or min(self.size) < 1:
            return None
        height, width = self._photo.shape[:2]
        return min(self.width / width, self.height / height)

    def whole(self) -> None:
        self._show_whole()
        self._moved()

    def _show_whole(self) -> None:
        scale = self._whole_scale()
        if scale is None:
            self._scatter.scale_min = self._scatter.scale  # as soon as there is room
            return
        self._scatter.scale_min, self._scatter.scale_max = scale, max(_CLOSEST, scale)
        self._scatter.transform = Matrix()
        self._scatter.scale = scale
        self._scatter.center = self.center

    def closer(self, factor: float = 2.0) -> None:
        """About the middle of what is seen."""
        sheet = self._scatter
        factor = min(sheet.scale_max, sheet.scale * factor) / sheet.scale
        sheet.apply_transform(Matrix().scale(factor, factor, 1), anchor=self.center)
        self._moved()

    def move(self, right: float, up: float) -> None:
        """Look further to the ``right`` and ``up``, in parts of the pane's size."""
        x, y = self._scatter.pos
        self._scatter.pos = (x - right * self.width, y - up * self.height)
        self._moved()

    def _moved(self) -> None:
        self._keep_in()
        if self.beside is not None:
            self.beside._show_as(self)

    def _show_as(self, other: "PhotoPane") -> None:
        """The part that ``other`` shows of its photo: the same share of the whole, about the same
        place."""
        mine, its = self._whole_scale(), other._whole_scale()
        if mine is None or its is None:
            return
        seen, sheet = other._scatter, self._scatter
        sheet.scale_min, sheet.scale = mine, mine * seen.scale / its
        at = [(m - p) / length for m, p, length in zip(other.center, seen.pos, seen.bbox[1], strict=True)]
        sheet.pos = [
            m - part * length for m, part, length in zip(self.center, at, sheet.bbox[1], strict=True)
        ]
        self._keep_in()

    def _keep_in(self) -> None:
        if self._photo is None:
            return
        sheet, height_width = self._scatter, self._photo.shape[:2]
        pos = []
        for at, low, room, length in zip(
            sheet.pos, self.pos, self.size, reversed(height_width), strict=True
        ):
            beyond = length * sheet.scale - room
            pos.append(low - beyond / 2 if beyond <= 0 else min(low, max(low - beyond, at)))
        if tuple(pos) != tuple(sheet.pos):
            sheet.pos = pos

    def _upload(self, _) -> None:
        if not self._waiting:
            return
        x, y = self._waiting.pop(0)
        tile = self._photo[y : y + _TILE, x : x + _TILE]
        height, width = tile.shape[:2]
        with self._scatter.canvas:
            Color(1, 1, 1, 1)
            Rectangle(
                texture=texture_of(tile), size=(width, height), pos=(x, self._photo.shape[0] - y - height)
            )
        self._uploading()

    def on_touch_down(self, touch):
        # A pane beside other things: touches outside it are not its own.
        return self.collide_point(*touch.pos) and super().on_touch_down(touch)


class _Sheet(Scatter):
    """Takes hold wherever a finger lands in its pane, beside a narrow photo too."""

    def __init__(self, pane: PhotoPane) -> None:
        super().__init__(do_rotation=False, size_hint=(None, None), auto_bring_to_front=False)
        self._pane = pane

    def collide_point(self, x: float, y: float) -> bool:
        return self._pane.collide_point(x, y)
