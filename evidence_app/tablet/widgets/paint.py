"""Colours of the theme in use as drawing instructions, which follow when another is used."""

from weakref import WeakKeyDictionary

from kivy.core.window import Window
from kivy.graphics import Color

from evidence_app.tablet.presenting import theme
from evidence_app.tablet.widgets.sizes import sizes

_painted: WeakKeyDictionary[Color, str] = WeakKeyDictionary()


def paint(name: str) -> Color:
    """Draw in the colour ``name`` from here on, into the canvas in use."""
    colour = Color(*theme.rgba(name))
    _painted[colour] = name
    return colour


def show_theme(name: str) -> None:
    """All that is drawn takes the colours of theme ``name``, where it stands."""
    changed = theme.use(name)
    Window.clearcolor = theme.rgba("ground")
    if changed:
        for colour, painted in list(_painted.items()):
            colour.rgba = theme.rgba(painted)
        sizes.renew()
