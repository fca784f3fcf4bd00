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

DESK = {
    "desk": "arrivals.ArrivalsScreen",
    "desk-choose": "choose.ChooseScreen",
    "desk-package": "package.PackageScreen",
    "desk-pairs": "pairs.PairsScreen",
    "desk-photo": "photo.StopPhotoScreen",
    "desk-review": "review.ReviewScreen",
    "desk-search": "search.SearchScreen",
    "desk-settings": "settings_screen.DeskSettingsScreen",
    "desk-stops": "stops.StopsScreen",
}


def make(name: str, frame):
    if name in DESK:
        module, _, made = DESK[name].partition(".")
        return getattr(importlib.import_module(f"evidence_app.tablet.desk.{module}"), made)(
            frame, name=name
        )
    module = importlib.import_module(f"evidence_app.tablet.screens.{name}")
    return getattr(module, SCREENS[name])(frame, name=name)
