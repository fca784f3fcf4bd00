"""Prepares Kivy before it is imported: no config file of its own, quiet, no multisampling."""

import logging
import os
import sys


def density(pixels_per_mm: float) -> float:
    """Pixels in 1/160 inch, in which texts and touch targets are given; never below 1, so that a
    coarse screen shows them larger than they need be rather than with too few pixels."""
    return max(1.0, pixels_per_mm * 25.4 / 160)


def prepare(size: tuple[int, int], pixels_per_mm: float = 0.0) -> None:
    """Called before anything imports kivy. ``size`` of the window in pixels.

    Multisampling halves the frame rate where the graphics run in software.
    """
    os.environ.setdefault("KIVY_NO_ARGS", "1")
    os.environ.setdefault("KIVY_NO_CONFIG", "1")
    os.environ.setdefault("KIVY_NO_FILELOG", "1")
    os.environ.setdefault("KIVY_LOG_MODE", "PYTHON")
    os.environ.setdefault("KIVY_METRICS_DENSITY", str(density(pixels_per_mm)))
    if sys.platform.startswith("linux"):
        # SDL's own way to PulseAudio asks the window for leave from a thread of its own, and
        # the window waits for that thread: the first sound would stop the app for good.
        # Through ALSA the sound comes to the same server.
        os.environ.setdefault("SDL_AUDIODRIVER", "alsa")
    from kivy.config import Config

    logging.getLogger("kivy").setLevel(logging.WARNING)
    width, height = size
    for section, key, value in (
        ("graphics", "multisamples", "0"),
        ("graphics", "width", str(width)),
        ("graphics", "height", str(height)),
        ("graphics", "resizable", "1"),
        ("kivy", "exit_on_escape", "0"),
        ("input", "mouse", "mouse,disable_multitouch"),
    ):
        Config.set(section, key, value)
