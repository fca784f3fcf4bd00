"""The palette, and the contrast of every text with what it stands on.

Slate and chalk with brass for the one thing to do next; clay for stopping. A state
is always said in words and drawn as a shape as well. Contrast after WCAG 2.2,
"relative luminance" and "contrast ratio"; at least 7:1 (success criterion 1.4.6).
"""

LEAST_CONTRAST = 7.0

PALETTE = {
    "ground": "#14201D",
    "well": "#0A1210",
    "board": "#22332E",
    "edge": "#7E978E",
    "chalk": "#F6F2E7",
    "brass": "#F2C75C",
    "ink": "#0D120F",
    "clay": "#FFBFA8",
    "mint": "#BFE9CF",
    "haze": "#D8CBFF",
    # Safety colours for the signal words, in the manner of ISO 3864 and ANSI Z535,
    # dark or light enough for 7:1; the word always stands in them.
    "danger": "#8E0010",
    "warning": "#FF9A2E",
    "caution": "#FFD84A",
    "notice": "#0B3C78",
}

TEXTS = {
    # text colour: everything it may stand on
    "chalk": ("ground", "well", "board", "danger", "notice"),
    "brass": ("ground", "well", "board"),
    "mint": ("ground", "well", "board"),
    "clay": ("ground", "well", "board"),
    "haze": ("ground", "well", "board"),
    "ink": ("brass", "clay", "mint", "haze", "chalk", "warning", "caution"),
}

SIGNALS = {
    # signal word: (panel, text)
    "DANGER": ("danger", "chalk"),
    "WARNING": ("warning", "ink"),
    "CAUTION": ("caution", "ink"),
    "NOTICE": ("notice", "chalk"),
}


def rgb(name: str) -> tuple[float, float, float]:
    """A colour of the palette, or "#RRGGBB", as three numbers from 0 to 1."""
    code = PALETTE.get(name, name).lstrip("#")
    red, green, blue = (int(code[at : at + 2], 16) / 255 for at in (0, 2, 4))
    return red, green, blue


def rgba(name: str) -> tuple[float, float, float, float]:
    return (*rgb(name), 1.0)


def luminance(name: str) -> float:
    """Relative luminance (WCAG 2.2): linear sRGB weighted 0.2126, 0.7152, 0.0722."""
    red, green, blue = (_linear(channel) for channel in rgb(name))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2), from 1 to 21: (L1 + 0.05) / (L2 + 0.05)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
