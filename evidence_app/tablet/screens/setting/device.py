"""Which camera, which microphone: those at this tablet to touch, any other to be entered."""

from functools import partial

from kivy.uix.widget import Widget

from evidence_app.language import say
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.widgets import Plate, Words


class DeviceScreen(BaseScreen):
    """``kind`` is "camera" or "microphone", which is the setting's name too."""

    def enter(self, kind: str = "camera") -> None:
        super().enter()
        self._kind, self._found = kind, None

        def work():
            from evidence_app.devices import found

            return found.cameras() if kind == "camera" else found.microphones()

        def done(devices) -> None:
            self._found = devices
            self.show()

        def failed(error) -> None:
            done(())
            self.place.refused(error)

        self.place.worker.run(work, done, failed)

    def show(self) -> None:
        chosen = getattr(self.place.settings, self._kind)
        if not self.differs(self._kind, self._found, chosen):
            return
        camera = self._kind == "camera"
        if self._found is None:
            shown: Widget = Words(text=say("Looking for devices …"))
        elif not self._found:
            shown = Words(text=say("None is at this tablet. Connect one, or enter another."))
        else:
            shown = tiles(*(self._device(device, chosen) for device in self._found))
        self.titled(say("Which camera?") if camera else say("Which microphone?"), shown)
        other = say("Enter an address, a folder or a file") if camera else say("Enter a name or a file")
        self.fill_row(
            self.back_plate(self.door("settings")),
            plate(other, "other-device", self._enter_other, mark="pencil"),
        )

    def _device(self, device, chosen: str) -> Plate:
        used = device.spec == chosen
        name = device.name or say("The one the system has chosen")
        state = say("in use") if used else device.spec
        mark = "done" if used else "owed"
        call = partial(self._choose, device.spec)
        return plate(f"{name}\n{state}", f"device {device.spec}", call, mark=mark)

    def _choose(self, spec: str) -> None:
        self.place.change_settings(**{self._kind: spec})
        self.frame.go("settings")

    def _enter_other(self) -> None:
        asked = (
            say("Camera: camera:0, http:// and an address, folder:PATH or file:PATH")
            if self._kind == "camera"
            else say("Microphone: microphone:NAME or file:PATH")
        )
        given = getattr(self.place.settings, self._kind)
        self.ask(asked, self._choose, self.door("device", kind=self._kind), given=given)
