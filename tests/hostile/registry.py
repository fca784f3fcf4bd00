"""The list of attacks: each a function that turns a sound package into a hostile one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from msgspec import Struct

from tests.hostile.bag import Bag

FAILS, UNREADABLE = "fails", "unreadable"


class Attack(Struct, frozen=True):
    """``check`` must be among the failing checks; None for a package that is
    unreadable. ``stops`` says what the check is there to stop."""

    name: str
    check: str | None
    stops: str
    alter: Callable[[Bag], Bag | bytes]

    @property
    def overall(self) -> str:
        return FAILS if self.check else UNREADABLE

    def __call__(self, package: Path, out: Path) -> None:
        """Write the hostile form of ``package`` to ``out``."""
        altered = self.alter(Bag.read(package))
        out.write_bytes(altered if isinstance(altered, bytes) else altered.zip())


ATTACKS: dict[str, Attack] = {}

AGAIN: dict[str, Attack] = {}
"""Those on a :func:`tests.hostile.on_measuring.measured_package`, found by measuring again only."""


def attack(check: str | None, among: dict[str, Attack] = ATTACKS) -> Callable:
    """Enter a function into the list under its own name; its docstring says what it stops."""

    def enter(alter: Callable[[Bag], Bag | bytes]) -> Callable[[Bag], Bag | bytes]:
        name = alter.__name__.replace("_", "-").strip("-")
        among[name] = Attack(name, check, alter.__doc__ or "", alter)
        return alter

    return enter
