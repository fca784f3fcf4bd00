"""What can be set on a camera at this machine: its focus and its exposure.

A control is offered only where setting it and reading it back showed it. OpenCV has no property
for a torch. Exposure and its modes as the V4L2 control reference has them ("Camera Control
Reference", V4L2_CID_EXPOSURE_AUTO: 1 is manual).
"""

import cv2

OFFERS = {"focus": ("automatic", "held"), "exposure": ("automatic", "darker", "brighter")}
"""The values of each control; the first is how the camera is found."""

STOPS = {"automatic": 0, "darker": -1, "brighter": 1}
"""From the exposure that the camera chose by itself."""

_FOCUS, _MODE, _TIME = cv2.CAP_PROP_AUTOFOCUS, cv2.CAP_PROP_AUTO_EXPOSURE, cv2.CAP_PROP_EXPOSURE
_MANUAL = 1.0  # of the modes


class Controls:
    """Those of an opened camera; all is left as it was found until something is set."""

    def __init__(self, capture: cv2.VideoCapture) -> None:
        self._capture = capture
        self._set: dict[str, str] = {}
        self._usual, self._automatic = 0.0, capture.get(_MODE)
        found = {"focus": self._can_focus(), "exposure": self._can_expose()}
        self.offers = {name: OFFERS[name] for name, there in found.items() if there}

    def follow(self, chosen: dict[str, str]) -> None:
        """Set what is ``chosen`` of the controls offered and is not set yet."""
        for name in self.offers:
            value, now = chosen.get(name, "automatic"), self._set.get(name, "automatic")
            if value != now:
                self._set[name] = value
                (self._focus if name == "focus" else self._expose)(value)

    def _can_focus(self) -> bool:
        return self._capture.get(_FOCUS) == 1 and self._focus("held") and self._focus("automatic")

    def _can_expose(self) -> bool:
        if self._automatic == _MANUAL:
            return False
        return self._expose("darker") & self._expose("automatic")  # back again in any case

    def _focus(self, value: str) -> bool:
        return self._takes(_FOCUS, value == "automatic")

    def _expose(self, value: str) -> bool:
        """By what the camera chose when it was last left to itself."""
        if value == "automatic":
            return self._takes(_MODE, self._automatic)
        if self._capture.get(_MODE) != _MANUAL:
            self._usual = self._capture.get(_TIME)
        time = round(self._usual * 2.0 ** STOPS[value])
        return time > 0 and self._takes(_MODE, _MANUAL) and self._takes(_TIME, time)

    def _takes(self, what: int, value: float) -> bool:
        return self._capture.set(what, value) and self._capture.get(what) == value
