"""Which names may stand in a package.

The names that the app writes are plain ASCII and mean the same file on every
system. Anything else is refused before a byte is read, because a name is how
an archive reaches out of its folder or shows one tool another file than the next.
"""

import unicodedata
from collections.abc import Iterable

from evidence_app import limits

# Reserved by Windows with any ending ("Naming Files, Paths, and Namespaces").
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))]
)
_FORBIDDEN = frozenset('<>:"|?*')


def name_problem(name: str) -> str | None:
    """What is wrong with a path inside a package, or None.

    ``name`` uses ``/`` between its parts and names a file, not a folder.
    """
    if not name:
        return "is empty"
    if name.startswith("/"):
        return "is absolute"
    if "\\" in name:
        return "has a backslash"
    if len(name) > 1 and name[1] == ":":
        return "names a drive"
    if len(name.encode("utf-8", "surrogateescape")) > limits.NAME_BYTES:
        return f"is longer than {limits.NAME_BYTES} bytes"
    if not name.isascii():
        return "has characters outside ASCII, which systems spell in different ways"
    if not name.isprintable():
        return "has control characters"
    for part in name.split("/"):
        problem = _part_problem(part)
        if problem:
            return problem
    return None


def twins(names: Iterable[str]) -> list[str]:
    """A sentence for each pair of names that some system takes for one file.

    Equal names, names equal ignoring case (Unicode case folding), names equal
    after normalisation (NFC), and a file whose name is also a folder's.
    """
    found = []
    seen: dict[str, str] = {}
    for name in names:
        key = _folded(name)
        if key in seen:
            found.append(_twin_sentence(seen[key], name))
        else:
            seen[key] = name
    for key, name in seen.items():
        parts = key.split("/")
        for depth in range(1, len(parts)):
            file = seen.get("/".join(parts[:depth]))
            if file is not None:
                found.append(f"{shown(file)}: is a file and also the folder of {shown(name)}")
                break
    return found


def printable(text: str) -> str:
    """Text as it may be printed: nothing in it reaches the terminal as a command."""
    safe = text.encode("utf-8", "backslashreplace").decode("utf-8")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in safe)


def shown(name: str) -> str:
    """A name, printable and not too long for a sentence."""
    safe = printable(name)
    return safe if len(safe) <= 200 else f"{safe[:197]}..."


def _part_problem(part: str) -> str | None:
    if part == "":
        return "has an empty part or ends in a slash (a folder of its own)"
    if part in (".", ".."):
        return f"has the part {part!r}, which leads elsewhere"
    if part[-1] in ". ":
        return "has a part that ends in a dot or space, which Windows drops"
    if not _FORBIDDEN.isdisjoint(part):
        return "has a character that Windows does not allow"
    if part.split(".")[0].lower() in _DEVICES:
        return "has a part that is a device on Windows"
    return None


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def _twin_sentence(first: str, second: str) -> str:
    if first == second:
        return f"{shown(second)}: stands in the package twice"
    if unicodedata.normalize("NFC", first) == unicodedata.normalize("NFC", second):
        return f"{shown(second)}: is another spelling of {shown(first)} (Unicode normalisation)"
    return f"{shown(second)}: is {shown(first)} in other case, one file on many systems"
