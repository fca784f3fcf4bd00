"""The report as a PDF to print: what was owed and shown, photos, every checksum.

Made from the same parts as the report page, so that both say the same. Every
page carries the package's name and "page n of m". A text of the journal may be
hostile: it is escaped, and a character that cannot be printed stands as its
number. The same input gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence

from msgspec import Struct
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.platypus import (
    Flowable,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Table,
)

from evidence_app.errors import PackageError
from evidence_app.job.summary.model import Summary
from evidence_app.package.report import words
from evidence_app.package.report.pdf_page import (
    STYLES,
    Code,
    Report,
    facts,
    grid,
    listed,
    margins,
    text,
)
from evidence_app.package.report.pdf_photos import photos
from evidence_app.package.report.previews import Embedded, Load, Progress
from evidence_app.package.report.view import Builder, PathOf
from evidence_app.package.verify.result import FAILS, HOLDS, NOT_CHECKED, VerifyResult

PAPERS = {"A4": A4, "Letter": LETTER}
MOST_TIMELINE = 400
_ROWS_TOGETHER = 40


class CheckReport(Struct, frozen=True):
    """What checking found, and when (RFC 3339)."""

    at: str
    result: VerifyResult


class PdfFile(Struct, frozen=True):
    """A file of the package. ``expected`` is what was sealed, ``found`` None when it is missing."""

    path: str
    bytes: int | None
    expected: str | None
    found: str | None


def render_pdf(
    summary: Summary,
    *,
    package_id: str,
    fingerprint: str | None,
    checked: CheckReport,
    files: Sequence[PdfFile],
    load: Load,
    path_in_package: PathOf,
    paper: str = "A4",
    progress: Progress | None = None,
) -> bytes:
    """PDF bytes on ``paper`` (A4 or Letter).

    ``fingerprint`` is None when there is no seal. ``load``, ``path_in_package`` and
    ``progress`` as for the report page. Raises PackageError for another paper.
    """
    if paper not in PAPERS:
        raise PackageError(
            f"there is no paper size “{paper}”",
            where="report",
            remedy=f"choose one of: {', '.join(PAPERS)}",
        )
    builder = Builder(summary, Embedded(load), path_in_package)
    builder.make_pictures(progress)
    practice = summary.identity.practice
    banner = {False: "", None: "The journal does not state whether this is practice"}.get(
        practice, "PRACTICE, not evidence"
    )
    if checked.result.failed:
        # On every page: a sheet can be read without the first.
        banner = f"A CHECK FAILS: do not rely on this  ·  {banner}".rstrip("· ")
    out = io.BytesIO()
    seal = f"fingerprint {fingerprint}" if fingerprint else "no seal"
    report = Report(out, PAPERS[paper], f"{package_id}  ·  {seal}", banner)
    width = PAPERS[paper][0] - 2 * margins()
    report.addPageTemplates([PageTemplate("all", [report.frame()])])
    report.build(list(_story(summary, builder, package_id, fingerprint, checked, files, width)))
    return out.getvalue()


def _story(
    summary: Summary,
    builder: Builder,
    package_id: str,
    fingerprint: str | None,
    checked: CheckReport,
    files: Sequence[PdfFile],
    width: float,
) -> Iterator[Flowable]:
    yield _head(summary, package_id, fingerprint, width)
    yield from _checked(checked)
    yield from _identity(summary, width)
    if summary.stop:
        yield from _stop(summary, builder, width)
    yield from _owed(summary, builder, width)
    yield from photos(builder, width)
    yield from _notes(builder)
    yield from _clocks(summary)
    yield from _timeline(summary, width)
    yield from _files(files, width)
    yield from _claims(summary, package_id)


def _head(summary: Summary, package_id: str, fingerprint: str | None, width: float) -> Flowable:
    outcome = summary.outcome.outcome
    lines = [
        Paragraph(f"Evidence report: {text(package_id)}", STYLES["small"]),
        Paragraph(text(words.HEADLINES.get(outcome, f"Job closed: {outcome}")), STYLES["title"]),
        Paragraph(text(summary.outcome.sentence), STYLES["lead"]),
    ]
    if fingerprint is None:
        return Table([[[*lines, Paragraph("There is no seal that can be read.", STYLES["lead"])]]],
                     colWidths=[width])  # fmt: skip
    lines += [
        Paragraph("Fingerprint of the seal", STYLES["small"]),
        Paragraph(text(fingerprint), STYLES["fingerprint"]),
        Paragraph("Compare it with the one that the tablet or the desk shows.", STYLES["small"]),
    ]
    side = 34 * mm
    return Table([[lines, Code(fingerprint, side)]], colWidths=[width - side, side],
                 style=[("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (0, 0), 0)])  # fmt: skip


def _checked(checked: CheckReport) -> Iterator[Flowable]:
    result = checked.result
    yield Paragraph("What was checked", STYLES["heading"])
    yield Paragraph(text(result.overall), STYLES["lead"])
    yield Paragraph(f"Checked {text(words.when(checked.at))}, when this was printed.",
                    STYLES["small"])  # fmt: skip
    for outcome, head in ((FAILS, "FAILS"), (NOT_CHECKED, "not checked")):
        for check in result.checks:
            if check.outcome != outcome:
                continue
            yield Paragraph(f"<b>{head}</b> {text(check.name)}: {text(check.sentence)}",
                            STYLES["body"])  # fmt: skip
            if outcome == FAILS:
                yield from listed(check.items)
    holding = ", ".join(check.name for check in result.checks if check.outcome == HOLDS)
    yield Paragraph(f"<b>holds</b> {text(holding or 'nothing')}", STYLES["body"])


def _identity(summary: Summary, width: float) -> Iterator[Flowable]:
    who, outcome, totals = summary.identity, summary.outcome, summary.totals
    device = " ".join(filter(None, (who.model, f"({who.family})" if who.family else None,
                                    f"variant {who.variant}" if who.variant else None)))  # fmt: skip
    yield Paragraph("What was worked on", STYLES["heading"])
    yield facts(
        [
            ("Claim", who.claim),
            ("Device", device),
            ("Serial number", who.serial),
            ("Technician", who.technician),
            ("Opened", words.when(outcome.opened_at)),
            ("Closed", words.when(outcome.closed_at) if outcome.closed_at else "not closed"),
            ("Time at work", words.duration(outcome.worked_s)),
            ("Step list", f"{who.step_list_title}: {who.step_list_id}, version "
                          f"{who.step_list_version}"),
            ("Shown", f"{words.count(totals.photos, 'photo')}, "
                      f"{words.count(totals.spoken_notes + totals.written_notes, 'note')}, "
                      f"{words.count(totals.readings, 'reading')}, "
                      f"{words.count(totals.findings, 'finding')}"),
            ("Job", who.job),
            ("Made with", f"evidence-app {who.app}, {who.clock} clock, {who.platform}"),
        ],
        width,
    )  # fmt: skip


def _stop(summary: Summary, builder: Builder, width: float) -> Iterator[Flowable]:
    stop = summary.stop
    found = words.FINDINGS.get(stop.finding or "", stop.finding or "none")
    yield Paragraph("The repair was stopped", STYLES["heading"])
    after = "The journal has no work on the device after the stop. What was done without " \
            "recording it, it cannot show."  # fmt: skip
    if stop.worked_after:
        events = ", ".join(str(done.sequence) for done in stop.worked_after)
        after = f"The journal has work on the device after the stop: events {events}."
    yield facts(
        [
            ("Reason", stop.reason),
            ("Disposition", stop.disposition),
            ("Prohibited", " ".join(stop.prohibitions) or "nothing stated"),
            ("At", f"{stop.step_title or 'no step'}, {words.when(stop.wall)}, "
                   f"event {stop.sequence}"),
            ("Finding", found),
            ("From finding to stop", words.duration(stop.finding_to_stop_s)
             if stop.finding_to_stop_s is not None else "not known"),
            ("Work after the stop", after),
            *((name.role or "Name", f"{name.name} (as given; nobody has checked it)")
              for name in stop.names),
        ],
        width,
    )  # fmt: skip
    yield from _owed_table("What the stop rule asks for", builder.stop_rows(), width)


def _owed(summary: Summary, builder: Builder, width: float) -> Iterator[Flowable]:
    yield Paragraph("What was owed and what was shown", STYLES["heading"])
    yield from listed(
        f"MISSING: {lack.step_title + ': ' if lack.step_title else ''}{lack.kind}, {lack.name}"
        for lack in summary.owed_but_missing
    )
    yield from _owed_table("Before work", builder.before_rows(), width)
    for step in builder.step_rows():
        yield from _owed_table(f"{step.heading} ({step.entered})", step.rows, width)


def _owed_table(title: str, rows, width: float) -> Iterator[Flowable]:
    if not rows:
        return
    yield Paragraph(text(title), STYLES["subheading"])
    cells = [
        (
            f"{row.kind}: {words.bare(row.name)}" if row.name else row.kind,
            words.STATES.get(row.state, row.state),
            " ".join(filter(None, (row.answer, row.more))),
        )
        for row in rows
    ]
    yield grid(cells, [width * 0.42, width * 0.2, width * 0.38])


def _notes(builder: Builder) -> Iterator[Flowable]:
    notes = builder.notes()
    if not notes:
        return
    yield Paragraph("Notes", STYLES["heading"])
    for card in notes:
        note = card.note
        if note.text:
            said = [f"Written: {text(note.text)}"]
        elif note.audio is None:
            said = [f"No recording: {text(note.lost_reason or 'not stated')}"]
        else:
            said = [f"Spoken, {words.duration(note.seconds) if note.seconds else 'not stated'}"]
            if note.transcript:
                by = "corrected by a person" if note.transcript.corrected else "by machine"
                words_ = note.transcript.corrected or note.transcript.text
                said.append(f"Transcript ({by}): {text(words_)}")
            else:
                said.append("No transcript.")
        parts = [Paragraph(f"<b>{note.sequence}. {text(card.where)}</b>", STYLES["body"])]
        parts += [Paragraph(line, STYLES["body"]) for line in said]
        if card.file:
            parts.append(Paragraph(f"{text(card.file.path)}<br/>SHA-256 {text(card.file.sha256)}",
                                   STYLES["code"]))  # fmt: skip
        yield KeepTogether(parts)


def _clocks(summary: Summary) -> Iterator[Flowable]:
    lines = [f"{words.when(note.wall)}: {note.sentence}" for note in summary.clock_notes]
    lines += [f"{words.when(loss.wall)}: {loss.device or 'device'} lost"
              for loss in summary.device_losses]  # fmt: skip
    lines += [f"Event {fact.sequence}: {fact.sentence}" for fact in summary.unplaced]
    lines += [
        f"Correction of event {fix.of} in event {fix.sequence}: {fix.text or 'taken back'}"
        for fix in summary.corrections
    ]
    yield Paragraph("Clocks, interruptions and corrections", STYLES["heading"])
    yield from listed(lines or ["none in the journal"])


def _timeline(summary: Summary, width: float) -> Iterator[Flowable]:
    yield Paragraph("Timeline", STYLES["heading"])
    lines = summary.timeline
    if len(lines) > MOST_TIMELINE:
        yield Paragraph(
            f"The journal has {len(lines)} entries; the first {MOST_TIMELINE} are printed. All of "
            "them stand in data/report.html and data/journal.jsonl in the package.",
            STYLES["body"],
        )
    cells = [
        (str(line.sequence), words.when(line.wall),
         f"{line.sentence}{' (taken back)' if line.taken_back else ''}")
        for line in lines[:MOST_TIMELINE]
    ]  # fmt: skip
    yield from _in_parts(cells, [width * 0.08, width * 0.3, width * 0.62])


def _files(files: Sequence[PdfFile], width: float) -> Iterator[Flowable]:
    yield Paragraph("Every file and its checksum (SHA-256)", STYLES["heading"])
    cells = []
    for file in files:
        size = words.size(file.bytes)
        cells.append((f"{file.path}\n{size}", f"{file.found or 'NO SUCH FILE'}"))
        if file.expected != file.found:
            cells.append(("ALTERED; expected:", file.expected or "not listed"))
    yield from _in_parts(cells, [width * 0.4, width * 0.6], "code")


def _in_parts(cells: list[tuple[str, ...]], columns: list[float], style: str = "small"):
    # One table of many thousand rows is slow to break into pages.
    for at in range(0, len(cells), _ROWS_TOGETHER):
        yield grid(cells[at : at + _ROWS_TOGETHER], columns, style)


def _claims(summary: Summary, package_id: str) -> Iterator[Flowable]:
    yield Paragraph("What this does not claim", STYLES["heading"])
    for sentence in (
        "It says what was checked. It does not say that what the photos show is true: a photo "
        "shows what was before the lens, and the finding is a person's.",
        "This paper can be altered; the package can be checked. Check the package itself before "
        "relying on it.",
        summary.identity.defers_to,
    ):
        yield Paragraph(text(sentence), STYLES["body"])
    yield Paragraph("Checking the package without this app", STYLES["subheading"])
    for line in (
        f"unzip {package_id}.zip && cd {package_id}",
        "sha256sum -c --quiet manifest-sha256.txt tagmanifest-sha256.txt",
        "openssl pkeyutl -verify -pubin -inkey device-key.pem -rawin -in seal.json "
        "-sigfile seal.sig",
    ):
        yield Paragraph(text(line), STYLES["code"])
