"""A package's report on paper: reads and checks the package, then has the PDF made."""

from pathlib import Path

from evidence_app.desk.contents import summary_of
from evidence_app.errors import PackageError
from evidence_app.package import layout
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.report.page import SEALED_IN
from evidence_app.package.report.pdf import CheckReport, PdfFile, render_pdf
from evidence_app.package.report.previews import Progress
from evidence_app.package.verify.case import Asked, Case
from evidence_app.package.verify.check import verify
from evidence_app.package.zip.archive import open_archive
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.sentence import sentence


def print_report(
    package: Path,
    paper: str = "A4",
    key_list: KeyList | None = None,
    accept_practice: bool = False,
    progress: Progress | None = None,
    clock: Clock | None = None,
    language: str = SEALED_IN,
) -> bytes:
    """PDF bytes of the report of the job in ``package``, with what checking it found just now.

    ``paper`` is A4 or Letter, ``language`` the reader's. ``progress`` is told (pictures made, pictures to make). Raises
    PackageError when the package cannot be read or its journal gives no summary.
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
    seal = case.seal
    return render_pdf(
        summary,
        package_id=layout.top_folder(summary.identity.claim or "", summary.identity.job or ""),
        fingerprint=seal.fingerprint if seal else None,
        head=seal.journal_head if seal else None,
        device_key_sha256=seal.device_key_sha256 if seal else None,
        checked=CheckReport(at, result),
        files=files,
        load=case.load_original,
        path_in_package=case.path_of.__getitem__,
        paper=paper,
        progress=progress,
        language=language,
    )
