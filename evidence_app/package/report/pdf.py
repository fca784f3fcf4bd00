"""The report as a PDF to print: the same page as in the package, with what paper needs.

Checks, every file with its checksum, the fingerprint as a QR code and page numbers are added.
The page is made here from summary and originals, never taken from the package, and nothing but
what is inside it is loaded. The same input gives the same bytes.
"""

import base64
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

import segno
from markupsafe import Markup
from msgspec import Struct

from evidence_app.errors import PackageError
from evidence_app.job.summary.model import Summary
from evidence_app.language import say, speaking
from evidence_app.package.layout import Seal
from evidence_app.package.report.page import PRACTICE, render_page, style_sheet
from evidence_app.package.report.previews import Embedded, Load
from evidence_app.package.report.view import Builder, PathOf
from evidence_app.package.verify.result import VerifyResult
from evidence_app.sentence import Sentence, sentence

PAPERS = {"A4": "210mm 297mm", "Letter": "8.5in 11in"}
MOST_TIMELINE = 400
_FONTS = {"normal": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}
_MONO = "DejaVuSansMono.ttf"


class PdfFile(Struct, frozen=True):
    """A file of the package. ``expected`` is what was sealed, ``found`` None when it is missing."""

    path: str
    bytes: int | None
    expected: str | None
    found: str | None


class DeskWord(Struct, frozen=True):
    """What the desk holds of a package: its decision, and each countersign with its mark."""

    decision: object
    countersigns: tuple[tuple[str, object], ...] = ()


class OnPaper(Struct, frozen=True):
    """What only the printed page shows; ``code`` is the QR code as a data URI."""

    result: VerifyResult
    at: str
    desk: DeskWord
    files: Sequence[PdfFile]
    code: Markup | None


def render_pdf(
    summary: Summary,
    *,
    package_id: str,
    seal: Seal | None,
    result: VerifyResult,
    at: str,
    files: Sequence[PdfFile],
    desk: DeskWord,
    references: Mapping[str, str],
    load: Load,
    path_in_package: PathOf,
    paper: str,
    language: str,
) -> bytes:
    """PDF bytes (tagged, PDF/UA-1) on ``paper`` (A4 or Letter) in the reader's ``language``.

    ``seal`` is None when it cannot be read, ``result`` what checking found at ``at`` (RFC 3339).
    ``references`` gives the clean reference of a photo, both by SHA-256; ``load`` and
    ``path_in_package`` as for the report page. Raises PackageError for another paper or language.
    """
    from weasyprint import HTML
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher

    if paper not in PAPERS:
        raise PackageError(
            sentence("there is no paper size “{paper}”", paper=paper),
            where=sentence("report"),
            remedy=sentence("choose one of: {papers}", papers=", ".join(PAPERS)),
        )
    fingerprint = seal.fingerprint if seal else None
    page = render_page(
        summary,
        Builder(summary, Embedded(load), path_in_package, references),
        language=language,
        most_events=MOST_TIMELINE,
        printed=OnPaper(result, at, desk, files, Markup(_code(fingerprint)) if fingerprint else None),
        headline=_headline(result),
        fingerprint=fingerprint,
        head_hash=seal.journal_head if seal else None,
        device_key_sha256=seal.device_key_sha256 if seal else None,
        style=_style(summary, package_id, fingerprint, result, paper, language),
    )
    only_inside = URLFetcher(allowed_protocols=("data",), allow_redirects=False)
    document = HTML(string=_printable(page), base_url=None, url_fetcher=only_inside)
    return document.write_pdf(
        pdf_variant="pdf/ua-1",
        pdf_identifier=(fingerprint or package_id).encode(),
        font_config=FontConfiguration(),
    )


def _headline(result: VerifyResult) -> Sentence | None:
    """What stands largest on a package that must not be relied on; None: its outcome."""
    if result.exit_status == 0:
        return None
    if result.failed == ("practice",):
        return sentence("Practice, not evidence")
    if result.failed:
        return sentence("A check fails: do not rely on this")
    return sentence("Not everything could be checked: do not rely on this")


def _code(fingerprint: str) -> str:
    # Four modules of quiet zone on each side (ISO/IEC 18004).
    return segno.make(fingerprint, error="m", micro=False).svg_data_uri(border=4, scale=4)


def _style(
    summary: Summary,
    package_id: str,
    fingerprint: str | None,
    result: VerifyResult,
    paper: str,
    language: str,
) -> Markup:
    with speaking(language):
        practice = PRACTICE[summary.identity.practice]
        top = [say(sentence("A CHECK FAILS: do not rely on this"))] if result.failed else []
        top += [say(practice)] if practice else []
        seal = say("fingerprint {fingerprint}", fingerprint=fingerprint) if fingerprint else say("no seal")
        page = say("page {number} of {count}", number='" counter(page) "', count='" counter(pages) "')
    # Letters, digits and marks of our own texts alone: the package's name is made of such.
    foot = f"{package_id}  ·  {seal}".replace("\\", "").replace('"', "")
    margins = (
        f"@page {{ size: {PAPERS[paper]}; @top-center {{ letter-spacing: 0; "
        f'content: "{"  ·  ".join(top)}"; }} '
        f'@bottom-left {{ content: "{foot}"; }} @bottom-right {{ content: "{page}"; }} }}\n'
    )
    return Markup(style_sheet() + paper_sheet() + margins)


@cache
def paper_sheet() -> str:
    """The style of paper alone, with the typeface that one of our libraries brings along."""
    own = Path(__file__).with_name("paper.css").read_text("utf-8")
    faces = [_face("Report", file, weight) for weight, file in _FONTS.items()]
    return "".join([*faces, _face("Report Mono", _MONO, "normal"), own])


def _face(family: str, file: str, weight: str) -> str:
    data = base64.b64encode((_folder() / file).read_bytes()).decode("ascii")
    return (
        f'@font-face {{ font-family: "{family}"; font-weight: {weight}; '
        f'src: url("data:font/ttf;base64,{data}"); }}\n'
    )


def _printable(page: str) -> str:
    """A character that the typeface does not have stands as its number, never left out."""
    return page.translate({
        ord(sign): f"⟨U+{ord(sign):04X}⟩"
        for sign in set(page)
        if sign not in "\n\t" and ord(sign) not in _glyphs()
    })  # fmt: skip


@cache
def _glyphs() -> frozenset[int]:
    from fontTools.ttLib import TTFont

    fonts = [*_FONTS.values(), _MONO]
    found = [frozenset(TTFont(_folder() / file).getBestCmap()) for file in fonts]
    return frozenset.intersection(*found)


def _folder() -> Path:
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"
