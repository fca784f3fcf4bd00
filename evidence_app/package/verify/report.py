"""The check of the page that people read: report.

A report of this app's own layout is made again from the journal and the originals and
compared with the one in the package, so that nobody can seal a page that tells another
story. One of an earlier layout is not written any more; it is held against the journal fact by
fact. What version of the app the seal names plays no part.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from evidence_app import limits
from evidence_app.language import mark
from evidence_app.package import layout
from evidence_app.package.verify import result
from evidence_app.package.verify.case import Case, is_earlier, other_wording, unseen
from evidence_app.package.zip.archive import read_head
from evidence_app.package.zip.names import shown
from evidence_app.sentence import sentence

if TYPE_CHECKING:
    from evidence_app.package.report.previews import Embedded

_HEAD_BYTES = 64 * 1024
_FALSE = "the report does not say or show what the journal gives"


def check_report(case: Case) -> result.CheckResult:
    """Does the report say and show what the journal gives?

    Showing costs more than all other checks together, because each photo is
    decoded. Without it a report whose words are right was not checked.
    """
    if (absent := unseen(case, "report", layout.REPORT, mark("the report is missing"))) is not None:
        return absent
    if case.seal is None:
        return result.not_checked("report", "it shows the seal's fingerprint, and the seal cannot be read")
    # Libraries for pictures and pages take longer to load than a small package to check.
    from evidence_app.package.report.compare import made_by
    from evidence_app.package.report.page import LAYOUT, PLAIN_MARKS

    head = read_head(case.archive, layout.REPORT, _HEAD_BYTES)
    written_as = made_by(head).partition(";")[0]
    if is_earlier(written_as, PLAIN_MARKS):
        return _by_facts(case, written_as)
    if written_as not in (LAYOUT, PLAIN_MARKS):
        unknown = sentence("{file}: has the layout {form}, this app knows {known}",
                           file=layout.REPORT, form=shown(written_as), known=LAYOUT)  # fmt: skip
        return result.fails("report", "the report has a layout that is not known", [unknown])
    if not case.asked.compare_pictures and _words_agree(case, written_as):
        return result.not_checked(
            "report",
            "its words are what the journal gives; its pictures were not compared with the photos, "
            "as was asked, so look at the photos themselves",
            result.WITHOUT_PICTURES,
        )
    return _made_again_and_compared(case, written_as)


def _made_again_and_compared(case: Case, form: str) -> result.CheckResult:
    """Another version of the picture library gives other bytes for the same pictures."""
    from evidence_app.package.report.compare import differences, made_by
    from evidence_app.package.report.previews import Digested, Embedded

    digested = Digested(case.load_original, lambda sha256, maker: case.previews.get(sha256))
    page = _made_again(case, form, digested)
    with case.archive.open(layout.REPORT) as file:
        exactly = digested.is_all_of(file, page)
    if exactly:
        return result.holds("report", "the report is exactly what journal and originals give")
    found = case.read(layout.REPORT, limits.TEXT_BYTES)
    different = differences(found, _made_again(case, form, Embedded(case.load_original)))
    if different:
        told = [sentence("{file}: {part}", file=layout.REPORT, part=part) for part in different]
        return result.fails("report", _FALSE, told)
    return result.holds(
        "report",
        "the report says and shows what the journal gives; its pictures were made by {library}",
        library=shown(made_by(found)),
    )


def _by_facts(case: Case, written_as: str) -> result.CheckResult:
    from evidence_app.package.report.page import LAYOUT
    from evidence_app.package.verify.report_facts import contradictions

    if problems := list(contradictions(case, case.read(layout.REPORT, limits.TEXT_BYTES))):
        return result.fails("report", _FALSE, problems)
    return result.not_checked(
        "report", other_wording(shown(written_as) or "?", LAYOUT), result.OTHER_WORDING
    )


def _words_agree(case: Case, form: str) -> bool:
    from evidence_app.package.report.compare import without_pictures
    from evidence_app.package.report.previews import Unpictured

    found = case.read(layout.REPORT, limits.TEXT_BYTES)
    page = _made_again(case, form, Unpictured(case.load_original))
    return without_pictures(found) == without_pictures(page)


def _made_again(case: Case, form: str, embedded: Embedded) -> bytes:
    from evidence_app.package.report.page import render_report

    seal = case.read_seal()
    return render_report(
        case.summary,
        fingerprint=seal.fingerprint,
        head=seal.journal_head,
        device_key_sha256=seal.device_key_sha256,
        embedded=embedded,
        path_in_package=case.path_of.__getitem__,
        form=form,
    )
