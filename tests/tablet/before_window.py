"""All of the app and of its driver that can be loaded without opening a window."""

from evidence_app.tablet.setup import prepare

prepare((1280, 800))

import kivy.tests.common  # noqa: E402, F401

import evidence_app.practice.play  # noqa: E402
import evidence_app.practice.technician  # noqa: E402
import evidence_app.tablet.workplace  # noqa: E402
import evidence_app.voice.note.recorder  # noqa: E402, F401
import tests.tablet.rendered  # noqa: E402, F401
