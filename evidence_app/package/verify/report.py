"""The check of the page that people read: report.

The report is made again from the journal and the originals and compared with
the one in the package, so that nobody can seal a page that tells another story.
"""

from __future__ import annotations

from evidence_app import __version__
from evidence_app.package import layout
from evidence_app.package.verify.case import Case, first_items, other_version
from evidence_app.package.verify.result import CheckResult, fails, holds, not_checked
from evidence_app.package.zip.names import shown


def check_report(case: Case) -> CheckResult:
    """Does the report say and show what the journal gives?

    Showing costs more than all other checks together, because each photo is
    decoded. Without it a report whose words are right was not checked.
    """
    if not case.has(layout.REPORT):
        return fails("report", "the report is missing", (f"{layout.REPORT}: is missing",))
    if case.seal is None:
        return not_checked("report", "it shows the seal's fingerprint, and the seal cannot be read")
    found = case.read(layout.REPORT, layout.MAX_TEXT_BYTES)
    if not case.asked.compare_pictures and _words_agree(case, found):
        return not_checked(
            "report",
            "its words are what the journal gives; its pictures were not compared with the photos, "
            "as was asked, so look at the photos themselves",
        )
    expected = _made_again(case, pictured=True)
    if found == expected:
        return holds("report", "the report is exactly what journal and originals give")
    return _compared(found, expected, case.seal.app)


def _words_agree(case: Case, found: bytes) -> bool:
    from evidence_app.package.report.compare import without_pictures

    return without_pictures(found) == without_pictures(_made_again(case, pictured=False))


def _made_again(case: Case, pictured: bool) -> bytes:
    # Its libraries for pictures and pages take longer to load than a small package to check.
    from evidence_app.package.report.page import render_report
    from evidence_app.package.report.previews import Embedded, Unpictured

    return render_report(
        case.summary,
        fingerprint=case.seal.fingerprint,
        head=case.seal.journal_head,
        device_key_sha256=case.seal.device_key_sha256,
        embedded=(Embedded if pictured else Unpictured)(case.load_original),
        path_in_package=case.path_of.__getitem__,
    )


def _compared(found: bytes, expected: bytes, sealed_by: str) -> CheckResult:
    """Another version of the picture library gives other bytes for the same pictures."""
    from evidence_app.package.report.compare import differences, made_by

    different = differences(found, expected)
    if not different:
        with_library = f"its pictures were made by {shown(made_by(found))}"
        return holds("report", f"the report says and shows what the journal gives; {with_library}")
    if sealed_by != __version__:
        return not_checked("report", other_version(sealed_by))
    return fails("report", "the report does not say or show what the journal gives",
                 first_items([f"{layout.REPORT}: {part}" for part in different]))  # fmt: skip
