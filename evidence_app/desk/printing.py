"""A package's report on paper: reads and checks the package, then has the PDF made."""

from collections.abc import Iterator
from pathlib import Path

from evidence_app.desk.contents import content_sha256, photos_of, summary_of
from evidence_app.desk.countersign import AGREE, read_all
from evidence_app.desk.countersign import DECISIONS as SIGNED
from evidence_app.desk.register import DECISIONS, Register
from evidence_app.desk.review import reference_of
from evidence_app.desk.search import show
from evidence_app.errors import PackageError
from evidence_app.job.summary.model import Summary
from evidence_app.language import language
from evidence_app.package import layout
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.report.pdf import DeskWord, PdfFile, render_pdf
from evidence_app.package.report.words import when
from evidence_app.package.verify.case import Asked, Case
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import verbatim
from evidence_app.package.zip.archive import open_archive
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.sentence import Sentence, joined, sentence


def print_report(
    package: Path,
    paper: str = "A4",
    key_list: KeyList | None = None,
    accept_practice: bool = False,
    clock: Clock | None = None,
    register: Register | None = None,
) -> bytes:
    """PDF bytes of the report of the job in ``package``, with what checking it found just now.

    ``paper`` is A4 or Letter, the language is that in use. The decision is that of ``register``, the
    countersigns are those beside the package. Raises PackageError when the package cannot be read
    or its journal gives no summary, RegisterError.
    """
    at = (clock or SystemClock()).now().wall
    result = verify(package, key_list, accept_practice=accept_practice)
    archive = open_archive(package)
    case = Case(archive, Asked())
    summary = summary_of(case) if not archive.problems else None
    if summary is None:
        raise PackageError(
            sentence("its journal cannot be shown, so there is no report to print"),
            where=str(package),
            remedy=sentence("see what verify says of it, and return it"),
        )
    expected = {file.path: file.expected for file in result.altered}
    digests = case.digests
    files = [
        PdfFile(name, archive.sizes.get(name), expected.get(name, digests.get(name)),
                digests.get(name))
        for name in sorted({*digests, *expected})
    ]  # fmt: skip
    return render_pdf(
        summary,
        package_id=layout.top_folder(summary.identity.claim or "", summary.identity.job or ""),
        seal=case.seal,
        result=result,
        at=at,
        files=files,
        desk=DeskWord(
            _decision(register, content_sha256(digests)), tuple(_countersigns(package, case, key_list))
        ),
        references=_references(case, summary),
        load=case.load_original,
        path_in_package=case.path_of.__getitem__,
        paper=paper,
        language=language(),
    )


def _references(case: Case, summary: Summary) -> dict[str, str]:
    every = photos_of(summary)
    pairs = ((photo, reference_of(case.step_list, photo, every)) for photo in every)
    return {photo.original.sha256: clean.original.sha256 for photo, clean in pairs if clean}


def _decision(register: Register | None, content: str) -> Sentence:
    if register is None or not register.path.exists() or (number := register.known(content)) is None:
        return sentence("none: the package is not in the register this was printed from")
    entry = show(register, number).package
    if entry["decision"] is None:
        return sentence("none yet (package {number} of the register)", number=number)
    decided = DECISIONS[entry["decision"]]
    said = sentence("{decision}, {when}, by {name}", decision=decided, when=when(entry["decided_at"]),
                    name=entry["decided_by"])  # fmt: skip
    reason = entry["decision_reason"]
    return sentence("{said}. Reason: {reason}", said=said, reason=reason) if reason else said


def _countersigns(package: Path, case: Case, key_list: KeyList | None) -> Iterator[tuple[str, Sentence]]:
    """The mark and words of each countersign beside the package."""
    seal_sha256 = case.digests.get(layout.SEAL)
    for found in read_all(package, seal_sha256, key_list) if seal_sha256 else ():
        content = found.content
        if found.problems or content is None:
            problems = joined("; ", found.problems)
            yield "missing", sentence("{file} is not sound: {problems}", file=found.path.name,
                                      problems=problems)  # fmt: skip
            continue
        told = sentence("{name} {said}, {when}", name=content.supervisor, said=SIGNED[content.decision],
                        when=when(content.at))  # fmt: skip
        mark = "shown" if content.decision == AGREE else "attention"
        yield (mark, joined(". ", filter(None, (told, verbatim(content.reason), found.key))))
