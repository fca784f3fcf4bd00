"""Offline voice-and-photo evidence recorder for field repairs."""

__version__ = "0.1.0"
