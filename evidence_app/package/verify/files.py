"""The checks of files: archive, bag, checksums, nothing-extra.

They need no key and no knowledge of the job. Stricter than the BagIt library,
which accepts extra files outside ``data/``, a missing tag manifest, malformed
manifest lines and names that differ only in case.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from evidence_app.package import bag, layout
from evidence_app.package.verify.case import Case, Defective, Unavailable, first_items
from evidence_app.package.verify.result import AlteredFile, CheckResult, fails, holds
from evidence_app.package.zip.names import shown, twins

_INFO_LINE = re.compile(r"([A-Za-z][A-Za-z-]*): (\S.*)")


def check_archive(case: Case) -> CheckResult:
    """Is the listing of the package sound? Judged before anything was read."""
    archive = case.archive
    if archive.problems:
        sentence = "the package is not built as the app builds it; nothing in it was read"
        return fails("archive", sentence, archive.problems)
    count, total = len(archive.sizes), sum(archive.sizes.values())
    form = "stored end to end in one ZIP file" if archive.kind == "zip" else "in a folder"
    return holds("archive", f"{count} regular files with plain names, {total} bytes, {form}")


def check_bag(case: Case) -> CheckResult:
    """The rules of RFC 8493 for the bag's own files."""
    problems = [
        f"{name}: is missing"
        for name in (*layout.LISTED_TAG_FILES, layout.TAG_MANIFEST)
        if not case.has(name)
    ]
    problems += _collected(lambda: _bagit_problems(case))
    problems += _collected(lambda: _manifest_problems(case))
    problems += _collected(lambda: _tag_manifest_problems(case))
    problems += _collected(lambda: _info_problems(case))
    if problems:
        return fails("bag", "the bag's own files are not as BagIt and this format want them",
                     first_items(problems))  # fmt: skip
    return holds("bag", f"BagIt 1.0; its manifest lists {len(case.manifest)} payload files")


def check_checksums(case: Case) -> CheckResult:
    """Has every listed file the SHA-256 that its manifest states?"""
    try:
        count = len(case.manifest) + len(case.tag_manifest)
    except (Defective, Unavailable) as error:
        raise Unavailable(f"a list of files cannot be used ({error})") from error
    if case.altered:
        some = f"{len(case.altered)} of {count} listed files altered or missing"
        return fails("checksums", some, first_items([_altered_sentence(f) for f in case.altered]))
    return holds("checksums", f"all {count} listed files have their SHA-256")


def check_nothing_extra(case: Case) -> CheckResult:
    """Is there nothing that the manifest and the format do not name?"""
    try:
        listed = case.manifest
    except (Defective, Unavailable) as error:
        raise Unavailable(f"the manifest cannot be used ({error})") from error
    allowed = {*listed, *layout.TAG_FILES, *layout.OPTIONAL_TAG_FILES}
    extra = [f"{name}: does not belong to the package"
             for name in sorted(case.archive.sizes) if name not in allowed]  # fmt: skip
    extra += [f"{name}/: is a folder without files" for name in case.archive.empty_folders]
    if extra:
        return fails("nothing-extra", "there is more in it than was listed", first_items(extra))
    return holds("nothing-extra", "there is nothing in it that is not listed")


def _collected(problems: Callable[[], list[str]]) -> list[str]:
    """What is wrong with one part; a missing part is reported once, elsewhere."""
    try:
        return problems()
    except Defective as error:
        return list(error.problems)
    except Unavailable:
        return []


def _bagit_problems(case: Case) -> list[str]:
    if case.read(layout.BAGIT) == bag.BAGIT_TXT:
        return []
    return [f"{layout.BAGIT}: is not the declaration of BagIt 1.0 in UTF-8"]


def _manifest_problems(case: Case) -> list[str]:
    problems = [f"{layout.MANIFEST}: lists {path}, which is no payload"
                for path in case.manifest if not path.startswith("data/")]  # fmt: skip
    problems += [f"{layout.MANIFEST}: {twin}" for twin in twins(case.manifest)]
    if list(case.manifest) != sorted(case.manifest):
        problems.append(f"{layout.MANIFEST}: its lines are not in the order of their paths")
    return problems


def _tag_manifest_problems(case: Case) -> list[str]:
    if list(case.tag_manifest) == sorted(layout.LISTED_TAG_FILES):
        return []
    wanted = ", ".join(sorted(layout.LISTED_TAG_FILES))
    return [f"{layout.TAG_MANIFEST}: does not list exactly {wanted}, in this order"]


def _info_problems(case: Case) -> list[str]:
    """bag-info.txt: ``Label: value`` lines and a true Payload-Oxum (RFC 8493 2.2.2)."""
    try:
        text = case.read(layout.BAG_INFO).decode("utf-8")
    except UnicodeDecodeError:
        return [f"{layout.BAG_INFO}: is not UTF-8 text"]
    problems = []
    oxum = []
    for number, line in enumerate(text.removesuffix("\n").split("\n"), start=1):
        parsed = _INFO_LINE.fullmatch(line)
        if parsed is None:
            problems.append(f"{layout.BAG_INFO} line {number}: is not a label, a colon and a value")
        elif parsed[1].lower() == "payload-oxum":
            oxum.append(parsed[2])
    sizes = [case.archive.sizes[name] for name in case.payload]
    found = f"{sum(sizes)}.{len(sizes)}"
    if oxum != [found]:
        stated = shown(", ".join(oxum)) or "nothing"
        problems.append(f"{layout.BAG_INFO}: Payload-Oxum says {stated}, the payload has {found}")
    return problems


def _altered_sentence(file: AlteredFile) -> str:
    step = f" (step {file.step})" if file.step else ""
    if file.found is None:
        return f"{shown(file.path)}{step}: is missing; its SHA-256 was {file.expected}"
    return f"{shown(file.path)}{step}: expected SHA-256 {file.expected}, found {file.found}"
