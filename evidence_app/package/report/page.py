"""The report: one page that shows what was owed and what was shown.

Rules:

- it is made from the summary and the originals alone, so that the same journal
  gives the same bytes (with the same version of the picture library, which the
  page names);
- it needs nothing but itself: no network, no script, no other file;
- every text of the journal is escaped, and what cannot be seen is made visible;
- a damaged original or an unknown event is said in words and never ends it.
"""

import re
from functools import cache
from importlib.resources import files
from itertools import groupby

import jinja2
from markupsafe import Markup

from evidence_app.errors import PackageError
from evidence_app.job.rules.ledger import balance_words
from evidence_app.job.summary.event_sentences import DEVICES, duration
from evidence_app.job.summary.model import Summary
from evidence_app.language import LANGUAGES, say, speaking
from evidence_app.package import layout
from evidence_app.package.report import words
from evidence_app.package.report.previews import Embedded, Progress
from evidence_app.package.report.sentences import reading_words, step_heading
from evidence_app.package.report.view import Builder, PathOf
from evidence_app.package.report.words import SEALED_IN
from evidence_app.photo.preview import maker
from evidence_app.sentence import NOTHING, Sentence, sentence
from evidence_app.steplist.kinds import kind_words
from evidence_app.steplist.model import FINDINGS

LAYOUT, PLAIN_MARKS = "evidence-report/3", "evidence-report/2"
"""The layout written now; the one before ticks whatever was recorded and prints all photos small."""


def render_report(
    summary: Summary,
    *,
    fingerprint: str,
    head: str,
    device_key_sha256: str,
    embedded: Embedded,
    path_in_package: PathOf,
    progress: Progress | None = None,
    language: str = SEALED_IN,
    form: str = LAYOUT,
) -> bytes:
    """The content of data/report.html, UTF-8.

    ``fingerprint``, ``head`` (the last event's hash) and ``device_key_sha256``
    are shown as given. ``embedded`` gives the pictures and sounds, and
    ``path_in_package`` the path of an original by its SHA-256, which may raise;
    the page then says so. ``progress`` is told (pictures made, pictures to
    make). ``language`` is the reader's; what people wrote and the step list's texts stay
    as they were given; ``form`` is LAYOUT or PLAIN_MARKS. Raises PackageError for a language that the app does not have.
    """
    page = render_page(
        summary,
        Builder(summary, embedded, path_in_package, plain_marks=form == PLAIN_MARKS),
        form=form,
        language=language,
        progress=progress,
        fingerprint=fingerprint,
        head_hash=head,
        device_key_sha256=device_key_sha256,
        style=_style(fingerprint, summary.identity.practice, language, form),
    )
    return page.encode("utf-8")


def render_page(
    summary: Summary,
    builder: Builder,
    *,
    language: str,
    progress: Progress | None = None,
    most_events: int | None = None,
    printed: object = None,
    headline: Sentence | None = None,
    form: str = LAYOUT,
    **more: object,
) -> str:
    """The page as HTML; ``printed`` is what only paper shows, ``more`` as the template names it.

    ``headline`` stands in place of the outcome where checking came to another word.
    """
    if language not in LANGUAGES:
        raise PackageError(
            sentence("the report cannot be written in {language}", language=repr(language)),
            where=sentence("report"),
            remedy=sentence("choose one of: {languages}", languages=", ".join(LANGUAGES)),
        )
    builder.make_pictures(progress)
    outcome = summary.outcome.outcome
    events = summary.timeline[:most_events]
    with speaking(language):
        return _template().render(
            language=language,
            made_by=made_by(form),
            kind_of_drawing="" if form == PLAIN_MARKS else "drawing",
            printed=printed,
            summary=summary,
            headline=headline or words.HEADLINES.get(outcome, outcome),
            outcome=words.HEADLINES.get(outcome, outcome),
            parts=builder,
            top_folder=layout.top_folder(summary.identity.claim or "", summary.identity.job or ""),
            # Cut where the day or the offset from UTC changes.
            days=[(day, list(of_it)) for day, of_it in groupby(events, lambda line: words.day(line.wall))],
            left_out=len(summary.timeline) - len(events),
            **more,
        )


def made_by(form: str) -> str:
    """What the page depends on beside the journal: its layout and the picture library."""
    return f"{form}; {maker()}"


def _style(fingerprint: str, practice: bool | None, language: str, form: str) -> Markup:
    """The style sheet, with the words that stand in the margin of every printed page."""
    footer = re.sub(r"[^A-Z2-7-]", "", fingerprint)
    with speaking(language):
        banner = say(PRACTICE[practice]) if PRACTICE[practice] else ""
        foot = say("Evidence report, fingerprint {fingerprint}", fingerprint=footer)
        page = say("Page {number} of {count}", number='" counter(page) "', count='" counter(pages) "')
    margin = (
        f'@page {{ @top-center {{ content: "{banner}"; }} '
        f'@bottom-left {{ content: "{foot}"; }} @bottom-right {{ content: "{page}"; }} }}\n'
    )
    return Markup(style_sheet(form) + margin)


def style_sheet(form: str = LAYOUT) -> str:
    names = ("report.css",) if form == PLAIN_MARKS else ("report.css", "large.css")
    here = files("evidence_app.package.report")
    return "".join(here.joinpath(name).read_text("utf-8") for name in names)


PRACTICE = {
    False: NOTHING,
    True: sentence("PRACTICE, not evidence"),
    None: sentence("The journal does not state whether this is practice"),
}


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
        "bdi": lambda text: Markup("<bdi>{}</bdi>").format(words.visible(text)),
        "clock_time": words.clock_time,
        "code": lambda text: Markup("<code>{}</code>").format(words.visible(text)),
        "device": lambda device: DEVICES.get(device, device),
        "finding": lambda finding: FINDINGS.get(finding, finding),
        "kind": lambda kind: words.KINDS.get(kind, kind),
        "measured_kind": lambda kind: kind and kind_words(kind),
        "seconds": duration,
        "size": words.size,
        "state": lambda state: words.STATES.get(state, state),
        "when": words.when,
    }
    environment.globals |= {
        "limits": words.limits,
        "balance_words": balance_words,
        "reading_words": reading_words,
        "say": words.said,
        "say_many": words.said_many,
        "step_heading": step_heading,
    }
    return environment.get_template("report_template.html")
