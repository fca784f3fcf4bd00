"""What is remarkable about a package of the register, its history, and the comparison with what
a clerk types."""

from collections.abc import Iterable
from typing import Any

from evidence_app.desk.countersign import DECISIONS as SIGNED
from evidence_app.desk.register import DECISIONS
from evidence_app.desk.search import Entry
from evidence_app.language import say
from evidence_app.sentence import Sentence, sentence, verbatim


def remarkable(conflicts: Iterable[dict[str, Any]], photos: Iterable[dict[str, Any]]) -> list[str]:
    """Other packages of the same job, and photos shown before or not to be compared."""
    lines = [sentence("conflict: {what}", what=each["sentence"]) for each in conflicts]
    lines += [sentence("photo {path}: {what}", path=each["path"], what=each["sentence"]) for each in photos]
    return [f"  {say(line)}" for line in lines]


def compared(entry: Entry, name: str, typed: str) -> tuple[bool, Sentence]:
    """Is the ``serial`` or ``claim`` that was typed or scanned the one in the package?

    Blanks around it and upper or lower case make no difference.
    """
    held, typed = entry.package[name], typed.strip()
    word = {"serial": sentence("the serial number"), "claim": sentence("the claim number")}[name]
    if held is None:
        return False, sentence(
            "{word} cannot be compared: the package gives none that can be read", word=word
        )
    if held.strip().casefold() == typed.casefold():
        return True, sentence("{word} is the one in the package: {held}", word=word, held=held)
    return False, sentence(
        "{word} is another one: given {typed}, in the package {held}", word=word, typed=typed, held=held
    )


def happened(event: dict[str, Any]) -> str:
    """What an event of the register says, with its reason."""
    place, decision = event["body"].get("path", ""), event["decision"]
    what = {
        "received": sentence("received from {place}", place=place),
        "received-again": sentence("received again from {place}", place=place),
        "decided": sentence("decided: {what}", what=DECISIONS.get(decision, decision)),
        "countersigned": sentence("countersigned: {what}", what=SIGNED.get(decision, decision)),
    }.get(event["kind"], verbatim(event["kind"]))
    return say(what) + (f" – {event['reason']}" if event["reason"] else "")
