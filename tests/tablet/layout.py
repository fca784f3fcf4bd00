"""What is wrong with a screen as it is laid out: texts cut off, targets small or overlapping."""

from __future__ import annotations

from kivy.core.window import Window
from kivy.metrics import Metrics
from kivy.uix.label import Label
from kivy.uix.scrollview import ScrollView

from evidence_app.tablet.widgets import Plate

_SLACK = 1.0
_MM = 12.0


def faults(root) -> list[str]:
    found = []
    boxes = []
    for widget, view in _shown(root, (0, 0, *Window.size)):
        if isinstance(widget, Label) and widget.text:
            if (
                widget.texture_size[0] > widget.width + _SLACK
                or widget.texture_size[1] > widget.height + _SLACK
            ):
                found.append(f"cut off: “{widget.text}” {widget.texture_size} in {widget.size}")
            left, _, right, _ = _box(widget)
            if left < -_SLACK or right > Window.width + _SLACK:
                found.append(f"beside the window: “{widget.text}”")
        if isinstance(widget, Plate):
            # 160 dp are an inch at the density set.
            least = _MM / 25.4 * 160 * Metrics.density
            if min(widget.size) < least - _SLACK:
                found.append(f"under 12 mm: “{widget.text}” {widget.size}")
            clipped = _clip(_box(widget), view)
            if clipped is not None:
                boxes.append((widget, clipped))
    for at, (one, box) in enumerate(boxes):
        for other, other_box in boxes[at + 1 :]:
            shared = _clip(box, other_box)
            if shared and shared[2] - shared[0] > _SLACK and shared[3] - shared[1] > _SLACK:
                found.append(f"overlap: “{one.text}” and “{other.text}”")
    return found


def seen_whole(root) -> list[str]:
    """The actions of plates and the texts that are in view from edge to edge, without scrolling."""
    found = []
    for widget, view in _shown(root, (0, 0, *Window.size)):
        box = _box(widget)
        seen = _clip(box, view) if isinstance(widget, Label | Plate) else None
        if seen and max(abs(one - other) for one, other in zip(box, seen, strict=True)) <= _SLACK:
            found.append(widget.action if isinstance(widget, Plate) else widget.text)
    return found


def _shown(widget, view):
    if isinstance(widget, ScrollView):
        view = _clip(view, _box(widget)) or (0, 0, 0, 0)
    yield widget, view
    for child in widget.children:
        yield from _shown(child, view)


def _box(widget):
    x, y = widget.to_window(widget.x, widget.y)
    return x, y, x + widget.width, y + widget.height


def _clip(one, other):
    box = (max(one[0], other[0]), max(one[1], other[1]), min(one[2], other[2]), min(one[3], other[3]))
    return box if box[0] < box[2] and box[1] < box[3] else None
