"""The report: one page that shows what was owed and what was shown.

Rules:

- it is made from the summary and the originals alone, so that the same journal
  gives the same bytes (with the same version of the picture library, which the
  page names);
- it needs nothing but itself: no network, no script, no other file;
- every text of the journal is escaped, and what cannot be seen is made visible;
- a damaged original or an unknown event is said in words and never ends it.
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from evidence_app.errors import PackageError
from evidence_app.job.summary.model import Summary
from evidence_app.package import layout
from evidence_app.package.report import words
from evidence_app.package.report.previews import Embedded, Progress
from evidence_app.package.report.view import Builder, PathOf, reading_words, step_heading
from evidence_app.photo.preview import maker

LAYOUT = "evidence-report/1"
LANGUAGES = ("en",)


def render_report(
    summary: Summary,
    *,
    fingerprint: str,
    head: str,
    device_key_sha256: str,
    embedded: Embedded,
    path_in_package: PathOf,
    progress: Progress | None = None,
    language: str = "en",
) -> bytes:
    """The content of data/report.html, UTF-8.

    ``fingerprint``, ``head`` (the last event's hash) and ``device_key_sha256``
    are shown as given. ``embedded`` gives the pictures and sounds, and
    ``path_in_package`` the path of an original by its SHA-256, which may raise;
    the page then says so. ``progress`` is told (pictures made, pictures to
    make). Raises PackageError for a language that the app does not have.
    """
    if language not in LANGUAGES:
        raise PackageError(
            f"the report cannot be written in {language!r}",
            where="report",
            remedy=f"choose one of: {', '.join(LANGUAGES)}",
        )
    builder = Builder(summary, embedded, path_in_package)
    builder.make_pictures(progress)
    outcome = summary.outcome.outcome
    page = _template().render(
        language=language,
        made_by=made_by(),
        style=_style(fingerprint, summary.identity.practice),
        summary=summary,
        headline=words.HEADLINES.get(outcome, f"Job closed: {outcome}"),
        fingerprint=fingerprint,
        head=head,
        device_key_sha256=device_key_sha256,
        top_folder=layout.top_folder(summary.identity.claim or "", summary.identity.job or ""),
        photo_groups=builder.photo_groups(),
        notes=builder.notes(),
        before_rows=builder.before_rows(),
        step_rows=builder.step_rows(),
        stop_rows=builder.stop_rows(),
        days=_days(summary),
    )
    return page.encode("utf-8")


def made_by() -> str:
    """What the page depends on beside the journal: its layout and the picture library."""
    return f"{LAYOUT}; {maker()}"


def _days(summary: Summary) -> list[tuple[str, list]]:
    """The timeline cut where the day or the offset from UTC changes."""
    days: list[tuple[str, list]] = []
    for line in summary.timeline:
        day = words.day(line.wall)
        if not days or days[-1][0] != day:
            days.append((day, []))
        days[-1][1].append(line)
    return days


def _style(fingerprint: str, practice: bool | None) -> Markup:
    """The style sheet, with the words that stand in the margin of every printed page."""
    sheet = files("evidence_app.package.report").joinpath("report.css").read_text("utf-8")
    footer = re.sub(r"[^A-Z2-7-]", "", fingerprint)
    banner = "" if practice is False else "PRACTICE, not evidence"
    if practice is None:
        banner = "The journal does not state whether this is practice"
    margin = (
        f'@page {{ @top-center {{ content: "{banner}"; }} '
        f'@bottom-left {{ content: "Evidence report, fingerprint {footer}"; }} }}\n'
    )
    return Markup(sheet + margin)


@cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("evidence_app.package.report", "."),
        autoescape=True,
        finalize=words.visible,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "bare": words.bare,
        "count": words.count,
        "clock_time": words.clock_time,
        "plain": words.plain,
        "seconds": words.duration,
        "size": words.size,
        "state": lambda state: words.STATES.get(state, state),
        "when": words.when,
    }
    environment.globals |= {
        "FINDINGS": words.FINDINGS,
        "ITEM_LISTS": words.ITEM_LISTS,
        "SOURCES": words.SOURCES,
        "limits": words.limits,
        "reading_words": reading_words,
        "step_heading": step_heading,
    }
    return environment.get_template("report_template.html")
