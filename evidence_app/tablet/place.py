"""What the tablet's ears and eye need of the workplace they are parts of, and no more."""

from collections.abc import Callable
from typing import Any, Protocol

from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from evidence_app.tablet.ear.engine import Engine
from evidence_app.tablet.presenting.notices import Notice
from evidence_app.tablet.settings import Settings
from evidence_app.tablet.worker import Worker


class Place(Protocol):
    """``job`` is the open one or None; the parts reach each other through it."""

    job: Any
    home: Callable[[], None]
    clock: Any
    settings: Settings
    worker: Worker
    engine: Engine
    sensing: Any  # its ``recorder`` is a note's that is being recorded, or None
    speaking: Any
    hearing: Any
    recounting: Any
    transcribing: Any

    @property
    def practice(self) -> bool: ...

    def do(self, command: c.Command, then: Callable[[], None] = ...) -> None: ...

    def tell(self, notice: Notice) -> None: ...

    def set_notice(self, key: str, notice: Notice | None) -> None: ...

    def refused(self, error: EvidenceError) -> None: ...

    def changed(self) -> None: ...
