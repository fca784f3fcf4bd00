"""The rooms keep their direction: imports point one way, and only the tablet knows kivy."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from graphlib import CycleError, TopologicalSorter
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "evidence_app"

# Lowest first. A room may import itself, any room before it, and the free ones.
ORDER = ["steplist", "photo", "voice", "devices", "record", "job", "package", "desk", "cluster", "deskpage"]
# Sound and pictures are stamped with the record's instants and measured in its units of time.
ALSO = {"voice": {"record"}, "devices": {"record"}}
FREE = {
    "errors",
    "language",
    "limits",
    "locations",
    "prepared",
    "release",
    "sentence",
    "system_calls",
    "reading",
    "writing",
    "__version__",
}
ANYTHING = {"commands", "cli", "practice", "tablet"}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def imported(path: Path) -> set[str]:
    """The dotted names that a module imports, wherever in it."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_room_imports_only_rooms_before_it(path):
    room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if room in ANYTHING or room not in ORDER:
        return
    allowed = FREE | set(ORDER[: ORDER.index(room) + 1]) | ALSO.get(room, set())
    rooms = {n.split(".")[1] for n in imported(path) if n.startswith("evidence_app.")}
    assert rooms <= allowed


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_only_the_tablet_names_kivy(path):
    if path.relative_to(PACKAGE).parts[0] == "tablet":
        return
    assert not any(name.split(".")[0] == "kivy" for name in imported(path))


def test_importing_every_room_but_the_tablet_leaves_kivy_out():
    names = [
        ".".join(("evidence_app", *p.relative_to(PACKAGE).with_suffix("").parts))
        for p in modules()
        if p.relative_to(PACKAGE).parts[0] != "tablet" and p.name != "__main__.py"
    ]
    code = (
        f"import importlib, sys\nfor n in {names!r}: importlib.import_module(n)\n"
        "sys.exit('kivy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


# Asked for before they are used; without them the app goes on and says what it lacks.
OPTIONAL = {"plyer"}


def test_every_library_is_installed_with_the_app():
    """The tests' own libraries hide what the app alone would miss."""
    project = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    lines = [
        *project["dependencies"],
        *extras["desk"],
        *extras["tablet"],
        *extras["voice"],
        *extras["cluster"],
    ]
    installed = {canonical(re.match(r"[\w.-]+", line)[0]) for line in lines}
    libraries = {name.split(".")[0] for path in modules() for name in imported(path)}
    libraries -= {PACKAGE.name, *sys.stdlib_module_names, *OPTIONAL}
    from_where = packages_distributions()
    missing = {
        name for name in libraries if not installed & {canonical(each) for each in from_where.get(name, ())}
    }
    assert not missing


def canonical(name: str) -> str:
    return name.lower().replace("_", "-")


def test_no_two_public_classes_have_one_name():
    """A reader would take them for the same thing."""
    places: dict[str, set[Path]] = {}
    for path in modules():
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, set()).add(path)
    assert {name for name, here in places.items() if len(here) > 1} == set()


def test_no_circle_of_imports():
    """Counting those inside functions and those for type checking alone."""
    names = {_dotted(path): path for path in modules()}
    ahead = {
        name: {
            found
            for each in imported(path)
            for found in (each, each.rpartition(".")[0])
            if found in names and found != name
        }
        for name, path in names.items()
    }
    try:
        tuple(TopologicalSorter(ahead).static_order())
    except CycleError as circle:
        pytest.fail(" -> ".join(circle.args[1]))


def _dotted(path: Path) -> str:
    return ".".join((PACKAGE.name, *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(
        ".__init__"
    )
