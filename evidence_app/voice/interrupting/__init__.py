"""Hearing a person while the app reads aloud: its own sound is taken out of the microphone's."""
