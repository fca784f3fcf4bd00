"""The screens by name; each is imported and made when it is first shown."""

import importlib

SCREENS = {
    "start": "opening.start.StartScreen",
    "newjob": "opening.newjob.NewJobScreen",
    "entry": "entry.EntryScreen",
    "scan": "opening.scan.ScanScreen",
    "prepare": "opening.prepare.PrepareScreen",
    "step": "working.step.StepScreen",
    "camera": "working.camera.CameraScreen",
    "photo": "working.photo.PhotoScreen",
    "finding": "working.finding.FindingScreen",
    "hold": "working.hold.HoldScreen",
    "count": "working.count.CountScreen",
    "note": "working.note.NoteScreen",
    "stop": "working.stop.StopScreen",
    "finish": "finish.FinishScreen",
    "lookback": "working.lookback.LookBackScreen",
    "settings": "setting.settings.SettingsScreen",
    "ruler": "setting.ruler.RulerScreen",
    "ready": "setting.ready.ReadyScreen",
    "device": "setting.device.DeviceScreen",
    "devicekey": "setting.devicekey.DeviceKeyScreen",
    "voice": "setting.voice.VoiceScreen",
}


def make(name: str, frame):
    module, screen = SCREENS[name].rsplit(".", 1)
    return getattr(importlib.import_module(f"{__name__}.{module}"), screen)(frame, name=name)
