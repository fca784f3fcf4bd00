"""The theme in use, from themes.toml beside this file, with what every text and shape stands on.

A state is always said in words and drawn as a shape as well. Contrast after WCAG 2.2: texts at
least 7:1 (success criterion 1.4.6), shapes at least 3:1 (1.4.11).
"""

import tomllib
from pathlib import Path

_FILE = tomllib.loads(Path(__file__).with_name("themes.toml").read_text("utf-8"))
THEMES = {name: {**_FILE[name], **_FILE["safety"]} for name in ("dark", "bright")}
TEXTS, SHAPES, SIGNALS = _FILE["texts"], _FILE["shapes"], _FILE["signals"]

_used = "dark"


def use(theme: str) -> bool:
    """Take colours from ``theme`` from now on; whether it is another than before."""
    global _used
    before, _used = _used, theme
    return before != theme


def rgb(name: str) -> tuple[float, float, float]:
    """A colour of the theme in use, or "#RRGGBB", as three numbers from 0 to 1."""
    code = THEMES[_used].get(name, name).lstrip("#")
    red, green, blue = (int(code[at : at + 2], 16) / 255 for at in (0, 2, 4))
    return red, green, blue


def rgba(name: str) -> tuple[float, float, float, float]:
    return (*rgb(name), 1.0)
