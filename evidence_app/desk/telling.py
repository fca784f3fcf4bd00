"""A package of the register in plain lines, and the comparison with what a clerk types."""

from collections.abc import Iterable
from typing import Any

from evidence_app.desk.countersign import DECISIONS as SIGNED
from evidence_app.desk.register import DECISIONS
from evidence_app.desk.search import Entry
from evidence_app.desk.worded import checks_of, overall_of
from evidence_app.job.summary.event_sentences import outcome_words
from evidence_app.language import say
from evidence_app.sentence import Sentence, sentence, sentences_beside, verbatim

_FACTS = sentences_beside(__file__)["facts"]


def lines_of(entry: Entry) -> list[str]:
    """Identity, checks (the latest result), altered files, conflicts, reuse, history."""
    package = entry.package
    named = {name: package[name] for name in ("id", "name", "kind", "bytes")}
    lines = [say("package {id}: {name} ({kind}, {bytes} bytes)", **named)]
    lines.append(f"  {say(overall_of(entry.results[-1]))}")
    if package["practice"]:
        lines.append("  " + say("practice, not evidence"))
    lines += [
        f"  {say(words) + ':':<20} {value}"
        for column, words in _FACTS.items()
        if (value := _value(package, column)) not in (None, "")
    ]
    lines += _result(entry.results[-1])
    lines += remarkable(entry.conflicts, (*entry.reused, *entry.unsearched))
    lines.append("  " + say("history:"))
    lines += [f"    {each['at']}  {each['by']}  {happened(each)}" for each in entry.events]
    return lines


def _value(package: dict[str, Any], column: str) -> Any:
    value = package[column]
    return say(outcome_words(value)) if value and column == "outcome" else value


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


def _result(row: dict[str, Any]) -> list[str]:
    found = row["json"]
    known = (
        say("key list of {name}", name=row["key_list"]) if row["key_list"] else say("without a key list")
    )
    lines = ["  " + say("checked {at} by version {app}, {list}:", at=row["at"], app=row["app"], list=known)]
    for check in checks_of(found):
        lines.append(f"    {check['outcome']:<12} {check['name']:<15} {say(check['sentence'])}")
        lines += [f"      - {say(item)}" for item in check["items"] if check["outcome"] == "fails"]
    for file in found.get("altered", ()):
        step = say(" (step {step})", step=file["step"]) if file["step"] else ""
        lines.append("    " + say("altered: {path}", path=file["path"]) + step)
        lines.append("      " + say("expected {digest}", digest=file["expected"]))
        lines.append("      " + say("found    {digest}", digest=file["found"] or say("no such file")))
    return lines


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
