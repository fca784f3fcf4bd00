"""Waiting for a microphone that plays what lies ready."""

from __future__ import annotations

import time

from evidence_app.devices.played import PlayedMicrophone


def played_out(microphone: PlayedMicrophone, timeout_s: float = 60.0) -> bool:
    """Wait until there is no more to hand on; whether everything was."""
    until = time.monotonic() + timeout_s
    while time.monotonic() < until:
        told = microphone.status().message.template
        if not microphone.status().present and "not started" not in told:
            return "to its end" in told
        time.sleep(0.005)
    return False
