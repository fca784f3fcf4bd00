"""The screens by name; each is imported and made when it is first shown."""

from __future__ import annotations

import importlib

SCREENS = {
    "start": "StartScreen",
    "newjob": "NewJobScreen",
    "entry": "EntryScreen",
    "scan": "ScanScreen",
    "prepare": "PrepareScreen",
    "step": "StepScreen",
    "camera": "CameraScreen",
    "photo": "PhotoScreen",
    "finding": "FindingScreen",
    "hold": "HoldScreen",
    "note": "NoteScreen",
    "stop": "StopScreen",
    "finish": "FinishScreen",
    "lookback": "LookBackScreen",
    "settings": "SettingsScreen",
    "device": "DeviceScreen",
    "devicekey": "DeviceKeyScreen",
    "voice": "VoiceScreen",
}


def make(name: str, frame):
    module = importlib.import_module(f"evidence_app.tablet.screens.{name}")
    return getattr(module, SCREENS[name])(frame, name=name)
