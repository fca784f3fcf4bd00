"""Contrast of two colours (WCAG 2.2, "relative luminance" and "contrast ratio")."""


def luminance(channels: tuple[float, float, float]) -> float:
    """Of red, green and blue from 0 to 1: linear sRGB weighted 0.2126, 0.7152, 0.0722."""
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """From 1 to 21: (L1 + 0.05) / (L2 + 0.05)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
