"""The checks of files: archive, bag, checksums, nothing-extra.

They need no key and no knowledge of the job. Stricter than the BagIt library,
which accepts extra files outside ``data/``, a missing tag manifest, malformed
manifest lines and names that differ only in case.
"""

import re
from collections.abc import Iterable, Iterator

from evidence_app.package import bag, layout
from evidence_app.package.verify.case import Case, Defective, Unavailable
from evidence_app.package.verify.result import AlteredFile, CheckResult, fails, holds
from evidence_app.package.zip.names import shown, twins
from evidence_app.sentence import NOTHING, Sentence, sentence

_INFO_LINE = re.compile(r"([A-Za-z][A-Za-z-]*): (\S.*)")


def check_archive(case: Case) -> CheckResult:
    """Is the listing of the package sound? Judged before anything was read."""
    archive = case.archive
    if archive.problems:
        return fails(
            "archive",
            "the package is not built as the app builds it; nothing in it was read",
            archive.problems,
        )
    size = {"count": len(archive.sizes), "total": sum(archive.sizes.values())}
    form = (
        sentence("stored end to end in one ZIP file") if archive.kind == "zip" else sentence("in a folder")
    )
    return holds(
        "archive", "{count} regular files with plain names, {total} bytes, {form}", form=form, **size
    )


def check_bag(case: Case) -> CheckResult:
    """The rules of RFC 8493 for the bag's own files."""
    problems = [
        sentence("{name}: is missing", name=name)
        for name in (*layout.LISTED_TAG_FILES, layout.TAG_MANIFEST)
        if not case.has(name)
    ]
    parts = (_bagit_problems, _manifest_problems, _tag_manifest_problems, _info_problems, _fetch_problems)
    for part in parts:
        problems += _collected(part(case))
    if problems:
        return fails("bag", "the bag's own files are not as BagIt and this format want them", problems)
    return holds("bag", "BagIt 1.0; its manifest lists {count} payload files", count=len(case.manifest))


def check_checksums(case: Case) -> CheckResult:
    """Has every listed file the SHA-256 that its manifest states?"""
    try:
        count = len(case.manifest) + len(case.tag_manifest)
    except (Defective, Unavailable) as error:
        raise Unavailable(sentence("a list of files cannot be used ({error})", error=error)) from error
    if altered := [_altered_sentence(file) for file in case.altered]:
        return fails("checksums", "{count} of {listed} listed files altered or missing", altered,
                     count=len(altered), listed=count)  # fmt: skip
    if case.withheld:
        left = [sentence("{path}: withheld, SHA-256 {sha256}", path=path, sha256=case.manifest[path])
                for path in case.withheld]  # fmt: skip
        return holds("checksums", "the {count} listed files that are in this copy have their SHA-256", left,
                     count=count - len(left))  # fmt: skip
    return holds("checksums", "all {count} listed files have their SHA-256", count=count)


def check_nothing_extra(case: Case) -> CheckResult:
    """Is there nothing that the manifest and the format do not name?"""
    try:
        listed = case.manifest
    except (Defective, Unavailable) as error:
        raise Unavailable(sentence("the manifest cannot be used ({error})", error=error)) from error
    allowed = {*listed, *layout.TAG_FILES, *layout.OPTIONAL_TAG_FILES}
    extra = [sentence('{name}: does not belong to the package', name=name)
             for name in sorted(case.archive.sizes)
             if name not in allowed and not layout.HANDOVER.fullmatch(name)]  # fmt: skip
    extra += [
        sentence("{name}/: is a folder without files", name=name) for name in case.archive.empty_folders
    ]
    if extra:
        return fails("nothing-extra", "it contains files that are not on its list", extra)
    return holds("nothing-extra", "there is nothing in it that is not listed")


def _collected(problems: Iterable[Sentence]) -> list[Sentence]:
    """What is wrong with one part; a missing part is reported once, elsewhere."""
    try:
        return list(problems)
    except Defective as error:
        return list(error.problems)
    except Unavailable:
        return []


def _bagit_problems(case: Case) -> Iterator[Sentence]:
    if case.read(layout.BAGIT) != bag.BAGIT_TXT:
        yield sentence("{file}: is not the declaration of BagIt 1.0 in UTF-8", file=layout.BAGIT)


def _manifest_problems(case: Case) -> Iterator[Sentence]:
    for path in case.manifest:
        if not path.startswith("data/"):
            yield sentence("{file}: lists {path}, which is no payload", file=layout.MANIFEST, path=path)
    for twin in twins(case.manifest):
        yield sentence("{file}: {twin}", file=layout.MANIFEST, twin=twin)
    if list(case.manifest) != sorted(case.manifest):
        yield sentence("{file}: its lines are not in the order of their paths", file=layout.MANIFEST)


def _tag_manifest_problems(case: Case) -> Iterator[Sentence]:
    handovers = filter(layout.HANDOVER.fullmatch, case.archive.sizes)
    if list(case.tag_manifest) != (listed := sorted((*layout.LISTED_TAG_FILES, *handovers))):
        wanted = ", ".join(listed)
        yield sentence(
            "{file}: does not list exactly {wanted}, in this order", file=layout.TAG_MANIFEST, wanted=wanted
        )


def _info_problems(case: Case) -> Iterator[Sentence]:
    """bag-info.txt: ``Label: value`` lines and a true Payload-Oxum (RFC 8493 2.2.2)."""
    try:
        text = case.read(layout.BAG_INFO).decode("utf-8")
    except UnicodeDecodeError:
        yield sentence("{file}: is not UTF-8 text", file=layout.BAG_INFO)
        return
    told: dict[str, str] = {}
    oxum = []
    for number, line in enumerate(text.removesuffix("\n").split("\n"), start=1):
        parsed = _INFO_LINE.fullmatch(line)
        if parsed is None:
            yield sentence(
                "{file} line {number}: is not a label, a colon and a value",
                file=layout.BAG_INFO,
                number=number,
            )
        elif parsed[1].lower() == "payload-oxum":
            oxum.append(parsed[2])
        elif parsed[1] in told:
            yield sentence("{file}: says {label} twice", file=layout.BAG_INFO, label=parsed[1])
        else:
            told[parsed[1]] = parsed[2]
    sizes = [*(case.archive.sizes[name] for name in case.payload), *case.withheld.values()]
    found = f"{sum(sizes)}.{len(sizes)}"
    if oxum != [found]:
        stated = shown(", ".join(oxum)) or sentence("nothing")
        yield sentence(
            "{file}: Payload-Oxum says {stated}, the payload has {found}",
            file=layout.BAG_INFO,
            stated=stated,
            found=found,
        )
    yield from _journal_told_otherwise(case, told)


def _journal_told_otherwise(case: Case, told: dict[str, str]) -> list[Sentence]:
    """What bag-info says of the claim and of the depot, against the journal."""
    try:
        events = case.events
    except (Defective, Unavailable):
        return []  # said by the check of the journal
    ticket = next((event.body for event in events if event.kind == "ticket-opened"), {})
    given = {"External-Identifier": events[0].body.get("claim"), "Source-Organization": ticket.get("depot")}
    return [
        sentence(
            "{file}: {label} is {told}, the journal gives {given}",
            file=layout.BAG_INFO,
            label=label,
            told=shown(told.get(label, "")) or sentence("nothing"),
            given=shown(str(value)) if value else sentence("nothing"),
        )
        for label, value in given.items()
        if told.get(label) != (" ".join(value.split()) if isinstance(value, str) else value)
    ]


def _fetch_problems(case: Case) -> Iterator[Sentence]:
    """The list of a disclosed copy: in order, and none of its files is there."""
    if not case.withheld and (case.has(layout.FETCH) or case.has(layout.ROLE_JOURNAL)):
        yield sentence(
            "{file}: does not name the report and photos, drawings or notes by checksum and size, in order",
            file=layout.FETCH,
        )
    for path in case.withheld:
        if case.has(path):
            yield sentence("{path}: is there, though it is said to be withheld", path=path)


def _altered_sentence(file: AlteredFile) -> Sentence:
    step = sentence(" (step {step})", step=file.step) if file.step else NOTHING
    if file.found is None:
        return sentence(
            "{path}{step}: is missing; its SHA-256 was {expected}",
            path=shown(file.path),
            step=step,
            expected=file.expected,
        )
    return sentence(
        "{path}{step}: expected SHA-256 {expected}, found {found}",
        path=shown(file.path),
        step=step,
        expected=file.expected,
        found=file.found,
    )
