"""A package of the register in plain lines, and the comparison with what a clerk types."""

from typing import Any

from evidence_app.desk.search import Entry

_FACTS = (
    ("claim", "claim"),
    ("serial", "serial number"),
    ("technician", "technician"),
    ("outcome", "outcome"),
    ("model", "model"),
    ("variant", "variant"),
    ("step_list", "step list"),
    ("step_list_version", "step list version"),
    ("opened_at", "opened"),
    ("closed_at", "closed"),
    ("fingerprint", "fingerprint"),
    ("owed_but_missing", "owed and not shown"),
    ("clock_notes", "clock anomalies"),
    ("stop_reason", "stopped because"),
    ("disposition", "disposition"),
)


def lines_of(entry: Entry) -> list[str]:
    """Identity, checks (the latest result), altered files, conflicts, reuse, history."""
    package = entry.package
    lines = [f"package {package['id']}: {package['name']} ({package['kind']}, {package['bytes']} bytes)"]
    lines.append(f"  {package['overall']}")
    if package["practice"]:
        lines.append("  practice, not evidence")
    lines += [
        f"  {words + ':':<20} {package[column]}"
        for column, words in _FACTS
        if package[column] not in (None, "")
    ]
    lines += _result(entry.results[-1])
    lines += [f"  conflict: {each['sentence']}" for each in entry.conflicts]
    lines += [f"  photo {each['path']}: {each['sentence']}" for each in entry.reused]
    lines += [f"  photo {each['path']}: {each['sentence']}" for each in entry.unsearched]
    lines.append("  history:")
    lines += [f"    {_happened(event)}" for event in entry.events]
    return lines


def compared(entry: Entry, name: str, typed: str) -> tuple[bool, str]:
    """Is the ``serial`` or ``claim`` that was typed or scanned the one in the package?

    Blanks around it and upper or lower case make no difference.
    """
    held = entry.package[name]
    word = {"serial": "serial number", "claim": "claim number"}[name]
    if held is None:
        return False, f"the {word} cannot be compared: the package gives none that can be read"
    if held.strip().casefold() == typed.strip().casefold():
        return True, f"the {word} is the one in the package: {held}"
    return False, f"the {word} is another one: given {typed.strip()}, in the package {held}"


def _result(row: dict[str, Any]) -> list[str]:
    found = row["json"]
    with_list = f", key list of {row['key_list']}" if row["key_list"] else ", without a key list"
    lines = [f"  checked {row['at']} by version {row['app']}{with_list}:"]
    for check in found.get("checks", ()):
        lines.append(f"    {check['outcome']:<12} {check['name']:<15} {check['sentence']}")
        lines += [f"      - {item}" for item in check["items"] if check["outcome"] == "fails"]
    for file in found.get("altered", ()):
        lines.append(f"    altered: {file['path']}" + (f" (step {file['step']})" if file["step"] else ""))
        lines.append(f"      expected {file['expected']}")
        lines.append(f"      found    {file['found'] or 'no such file'}")
    return lines


def _happened(event: dict[str, Any]) -> str:
    what = {
        "received": f"received from {event['body'].get('path')}",
        "received-again": f"received again from {event['body'].get('path')}",
        "decided": f"decided: {event['decision']}",
        "countersigned": f"countersigned: {event['decision']}",
    }[event["kind"]]
    reason = f" – {event['reason']}" if event["reason"] else ""
    return f"{event['at']}  {event['by']}  {what}{reason}"
