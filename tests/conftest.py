"""What holds for every test: none fails because the machine is busy."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")

# Checks of English words hold wherever the tests run; those of another language ask for it.
os.environ["LANGUAGE"] = "en"
