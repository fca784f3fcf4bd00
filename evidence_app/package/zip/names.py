"""Which names may stand in a package.

The names that the app writes are plain ASCII and mean the same file on every
system. Anything else is refused before a byte is read, because a name is how
an archive reaches out of its folder or shows one tool another file than the next.
"""

import unicodedata
from collections.abc import Iterable

from evidence_app import limits
from evidence_app.sentence import Sentence, joined, sentence, verbatim

# Reserved by Windows with any ending ("Naming Files, Paths, and Namespaces").
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))]
)
_FORBIDDEN = frozenset('<>:"|?*')


def name_problem(name: str) -> Sentence | None:
    """What is wrong with a path inside a package, or None.

    ``name`` uses ``/`` between its parts and names a file, not a folder.
    """
    if not name:
        return sentence("is empty")
    if name.startswith("/"):
        return sentence("is absolute")
    if "\\" in name:
        return sentence("has a backslash")
    if len(name) > 1 and name[1] == ":":
        return sentence("names a drive")
    if len(name.encode("utf-8", "surrogateescape")) > limits.NAME_BYTES:
        return sentence("is longer than {most} bytes", most=limits.NAME_BYTES)
    if not name.isascii():
        return sentence("has characters outside ASCII, which systems spell in different ways")
    if not name.isprintable():
        return sentence("has control characters")
    for part in name.split("/"):
        problem = _part_problem(part)
        if problem:
            return problem
    return None


def twins(names: Iterable[str]) -> list[Sentence]:
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
                found.append(
                    of_name(file, sentence("is a file and also the folder of {other}", other=shown(name)))
                )
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


def of_name(name: str, problem: Sentence) -> Sentence:
    """What is wrong with the file ``name``."""
    return joined(": ", (verbatim(shown(name)), problem))


def _part_problem(part: str) -> Sentence | None:
    if part == "":
        return sentence("has an empty part or ends in a slash (a folder of its own)")
    if part in (".", ".."):
        return sentence("has the part {part!r}, which leads elsewhere", part=part)
    if part[-1] in ". ":
        return sentence("has a part that ends in a dot or space, which Windows drops")
    if not _FORBIDDEN.isdisjoint(part):
        return sentence("has a character that Windows does not allow")
    if part.split(".")[0].lower() in _DEVICES:
        return sentence("has a part that is a device on Windows")
    return None


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def _twin_sentence(first: str, second: str) -> Sentence:
    if first == second:
        return of_name(second, sentence("stands in the package twice"))
    if unicodedata.normalize("NFC", first) == unicodedata.normalize("NFC", second):
        told = sentence("is another spelling of {other} (Unicode normalisation)", other=shown(first))
    else:
        told = sentence("is {other} in other case, one file on many systems", other=shown(first))
    return of_name(second, told)
