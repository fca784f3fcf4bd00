"""The report says what the journal says, and carries nothing foreign."""

from __future__ import annotations

import re
import subprocess
from itertools import pairwise

import pytest
from hypothesis import given, settings

from evidence_app.errors import PackageError
from evidence_app.job.summary.summarise import summarise
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.package.report.page import render_report
from evidence_app.package.report.previews import Embedded
from evidence_app.record.event import Draft, seal_draft
from evidence_app.steplist.load import loads
from tests.contrast import contrast
from tests.job.bench import STEP_LIST
from tests.job.summary.odd_journals import journal, odd_drafts
from tests.making import make_key
from tests.package.report.reporting import KEY, Page, new_bench, render, run_completed, run_stopped


@pytest.fixture(scope="module")
def stopped(tmp_path_factory):
    bench = new_bench(tmp_path_factory.mktemp("stopped") / "job")
    run_stopped(bench)
    yield bench.job.record
    bench.job.close()


@pytest.fixture(scope="module")
def completed(tmp_path_factory):
    bench = new_bench(tmp_path_factory.mktemp("completed") / "job")
    run_completed(bench)
    yield bench.job.record
    bench.job.close()


@pytest.fixture(scope="module")
def stop_page(stopped) -> Page:
    return render(stopped).page


@pytest.fixture(scope="module")
def done_page(completed) -> Page:
    return render(completed).page


def with_event(record, kind: str, body: dict, step: str | None = None):
    """The record's events with one more before its closing, chained on."""
    *before, closing = record.events
    last = before[-1]
    more = seal_draft(Draft(kind, body, step), last.instant, last.sequence + 1, last.hash)
    draft = Draft(closing.kind, closing.body, closing.step, closing.actor)
    return [*before, more, seal_draft(draft, closing.instant, more.sequence + 1, more.hash)]


def rendered_with_note(record, text: str) -> str:
    body = {"text": text, "photo": None}
    return render(record, with_event(record, "note-written", body)).html


# --- facts ------------------------------------------------------------------------------


def test_parts_stand_in_the_order_of_need(stop_page):
    """Outcome, fingerprint, what was worked on, the stop, and only then the details."""
    tags = [attributes.get("id") or tag for tag, attributes in stop_page.elements]
    order = ["h1", "fingerprint-label", "identity", "stop", "owed", "photos", "notes", "readings",
             "holds", "preparation", "timeline", "clocks", "claims", "check"]  # fmt: skip
    assert [tag for tag in tags if tag in order] == order


def test_fingerprint_is_shown(stopped):
    report = render(stopped, fingerprint="ABCD-EFGH-IJKL-MNOP-QRST")
    assert report.page.text().count("ABCD-EFGH-IJKL-MNOP-QRST") == 1


def test_stop_shows_disposition_prohibitions_and_names(stop_page):
    words = stop_page.text()
    for each in ("Exchange the whole unit.", "Do not pull anything out through the slot.",
                 "R. Tavares-Holm", "finding “not clear”"):  # fmt: skip
        assert each in words


def test_every_event_is_in_the_timeline(stopped, stop_page):
    for event in stopped.events:
        assert stop_page.text(f"event-{event.sequence}").startswith(str(event.sequence))


def test_every_photo_has_its_file_and_checksum(stopped, stop_page):
    for event in stopped.events:
        if event.kind == "photo-taken":
            words = stop_page.text(f"photo-{event.sequence}")
            assert event.body["photo"]["sha256"] in words
            assert f"data/photos/{event.sequence:04d}-" in words


def test_superseded_take_is_named_so(stopped, stop_page):
    first = next(e for e in stopped.events if e.kind == "photo-taken" and e.step == "clean")
    assert "replaced by a later photo" in stop_page.text(f"photo-{first.sequence}")


def test_kept_photo_shows_reason_and_failing_sentence(stopped, stop_page):
    taken = [e for e in stopped.events if e.kind == "photo-taken"][-1]
    judged = next(e for e in stopped.events if e.sequence == taken.sequence + 1)
    failing = next(check for check in judged.body["checks"] if not check["holds"])
    words = stop_page.text(f"photo-{taken.sequence}")
    assert "the lamp reflects at every angle" in words
    assert failing["sentence"] in words


def test_note_shows_both_transcripts_and_its_file(stopped, stop_page):
    started = next(e for e in stopped.events if e.kind == "note-started")
    words = stop_page.text(f"note-{started.sequence}")
    for each in ("grid on the floor", "grit on the floor", "data/voice/", "2 s"):
        assert each in words


def test_short_and_long_hold_are_both_shown(done_page):
    words = done_page.text()
    assert "4 s , not as asked" in words
    assert "12 s , long enough" in words


def test_reading_shows_value_limits_and_how(done_page):
    assert "0.10 mm, within its limits (typed)" in done_page.text()
    assert "at most 0.2 mm" in done_page.text()


def test_measurement_shows_conformity_and_markup(completed, done_page):
    measured = next(e for e in completed.events if e.kind == "measured" and e.body["markup"])
    taken = next(e for e in completed.events if e.kind == "photo-taken"
                 and e.body["photo"]["sha256"] == measured.body["photo"])  # fmt: skip
    words = done_page.text(f"photo-{taken.sequence}")
    assert "Inconclusive: the limit of at most 0.2 mm lies inside the measurement uncertainty." in words
    assert "inconclusive" in words
    assert measured.body["markup"]["sha256"] in words


def test_clock_set_back_is_told(stop_page):
    assert "wall clock was set back by" in stop_page.text()


def test_cautions_show_when_they_were_acknowledged(stopped, stop_page):
    event = next(e for e in stopped.events if e.kind == "caution-acknowledged")
    assert f"Take it out first 2026-03-02 08:00:02 +01:00, event {event.sequence}" in (stop_page.text())


def test_missing_things_stand_at_the_top(completed):
    events = [e for e in completed.events if e.kind != "photo-taken"]
    words = render(completed, events).page.text()
    assert "Required, and missing from the record" in words.partition("Fingerprint")[0]


def test_practice_is_told_on_screen_and_on_every_printed_page(stopped):
    report = render(stopped)
    assert "PRACTICE. This job was done for practice." in report.page.text()
    assert '@top-center { content: "PRACTICE, not evidence"; }' in report.html


def test_real_job_bears_no_practice_mark(stopped):
    opened = stopped.events[0]
    body = opened.body | {"practice": False}
    real = seal_draft(Draft("job-opened", body), opened.instant, 1, "0" * 64)
    html = render(stopped, [real, *stopped.events[1:]]).html
    assert "PRACTICE" not in html


def test_unknown_event_is_told(stopped):
    page = render(stopped, with_event(stopped, "lamp-lit", {"colour": "violet"})).page
    assert "unknown kind “lamp-lit”" in page.text()
    assert "Events that could not be placed" in page.text()


# --- hostile journals ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["<script>alert(1)</script>", "<img src=x onerror=alert(1)>", '" onmouseover="alert(1)',
     "</style><script>alert(1)</script>", "{{ 7*7 }}", "{% raw %}", "&lt;b&gt;"],
)  # fmt: skip
def test_text_is_shown_and_never_obeyed(stopped, text):
    plain, hostile = Page(render(stopped).html), Page(rendered_with_note(stopped, text))
    assert text in hostile.text()
    added = [e for e in hostile.elements if e not in plain.elements]
    assert {tag for tag, _ in added} <= {"article", "a", "bdi", "tr", "th", "td", "p", "blockquote"}


@pytest.mark.parametrize(
    ("character", "shown"),
    [("\u202e", "⟨U+202E⟩"), ("\u2066", "⟨U+2066⟩"), ("\x07", "⟨U+0007⟩"), ("\x9b", "⟨U+009B⟩"),
     ("\u200b", "⟨U+200B⟩"), ("\ufeff", "⟨U+FEFF⟩"), ("\U000e0041", "⟨U+E0041⟩")],
)  # fmt: skip
def test_hidden_characters_are_made_visible(stopped, character, shown):
    html = rendered_with_note(stopped, f"clear{character}raelc")
    assert character not in html
    assert f"clear{shown}raelc" in html


def test_hostile_names_are_escaped_everywhere(stopped):
    opened = stopped.events[0]
    hostile = "<svg onload=alert(1)>\u202e"
    body = opened.body | {"claim": hostile, "technician": hostile, "app": hostile,
                          "device": {"family": hostile, "model": hostile, "serial": hostile}}  # fmt: skip
    first = seal_draft(Draft("job-opened", body), opened.instant, 1, "0" * 64)
    html = render(stopped, [first, *stopped.events[1:]]).html
    assert "<svg onload" not in html
    assert "\u202e" not in html


@settings(max_examples=60, deadline=None)
@given(odd_drafts)
def test_no_readable_journal_is_too_odd(drafts):
    summary = summarise(loads(STEP_LIST, "step list"), journal(*drafts))
    data = render_report(
        summary,
        fingerprint="A",
        head=KEY,
        device_key_sha256=KEY,
        embedded=Embedded({}.__getitem__),
        path_in_package={}.__getitem__,
    )
    assert data.endswith(b"</html>")


def test_path_that_leaves_the_package_is_no_link(stopped):
    page = render(stopped, path_in_package=lambda _: "data/../../etc/passwd").page
    assert not [a for a in page.attributes("a") if "etc" in a["href"]]


# --- nothing foreign ---------------------------------------------------------------------------


@pytest.mark.parametrize("outcome", ["stop_page", "done_page"])
def test_page_has_no_script_and_no_handler(outcome, request):
    page = request.getfixturevalue(outcome)
    assert not page.attributes("script")
    for _, attributes in page.elements:
        assert not [name for name in attributes if name.startswith("on")]


@pytest.mark.parametrize("outcome", ["stop_page", "done_page"])
def test_page_refers_to_nothing_outside_the_package(outcome, request):
    page = request.getfixturevalue(outcome)
    for tag, attributes in page.elements:
        for name in ("src", "href", "action", "data", "poster", "srcset"):
            value = attributes.get(name)
            if value is not None:
                assert re.match(r"data:|#|(photos|markup|voice|ticket)/[\w.-]+$", value), (tag, value)


def test_style_fetches_nothing(stopped):
    style = render(stopped).html.partition("<style>")[2].partition("</style>")[0]
    assert "url(" not in style
    assert "@import" not in style


def test_policy_forbids_everything_but_what_is_inside(stop_page):
    policy = next(m["content"] for m in stop_page.attributes("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
                             "media-src data:")  # fmt: skip
    assert "script-src" not in policy


def test_links_lead_somewhere_on_the_page(stop_page):
    names = {attributes.get("id") for _, attributes in stop_page.elements}
    for link in stop_page.attributes("a"):
        if link["href"].startswith("#"):
            assert link["href"][1:] in names


def test_ids_are_unique(stop_page):
    names = [attributes["id"] for _, attributes in stop_page.elements if "id" in attributes]
    assert len(names) == len(set(names))


# --- readable by everybody ------------------------------------------------------------------------


def test_page_says_its_language_and_has_landmarks(stop_page):
    tags = [tag for tag, _ in stop_page.elements]
    assert stop_page.attributes("html")[0]["lang"] == "en"
    assert [tags.count(tag) for tag in ("header", "main", "footer", "h1")] == [1, 1, 1, 1]


def test_headings_skip_no_level(stop_page):
    levels = [int(tag[1]) for tag, _ in stop_page.elements if re.fullmatch(r"h[1-6]", tag)]
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_every_picture_has_words_for_it(stop_page):
    assert all(image["alt"] for image in stop_page.attributes("img"))


def test_every_table_head_has_its_scope(stop_page):
    assert all("scope" in head for head in stop_page.attributes("th"))


def rgb(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


@pytest.mark.parametrize(
    ("text", "ground"),
    [(text, ground) for text in ("ink", "soft", "link", "halt") for ground in ("paper", "sheet")]
    + [("on-deep", "deep"), ("on-deep", "ink")],
)
def test_contrast_is_at_least_seven(stopped, text, ground):
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", render(stopped).html))
    assert contrast(rgb(colours[text]), rgb(colours[ground])) >= 7


def test_states_are_told_in_words_beside_their_shape(stop_page):
    legend = (
        "recorded recorded, and to be looked at kept with a stated reason MISSING not finished when "
        "the job ended, or still open not reached"
    )
    assert legend in stop_page.text()


# --- how to check ---------------------------------------------------------------------------------------


def printed_commands(page: Page, start: str) -> list[str]:
    words = "\n".join(page.within[""])
    return [line for line in words.splitlines() if line.startswith(start)]


def test_shown_command_gives_the_fingerprint(stopped):
    report = render(stopped)
    (command,) = printed_commands(report.page, "printf")
    ran = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=True)
    assert f"{ran.stdout.strip()}" in report.page.text("").partition("Compare it")[0]


def test_shown_command_gives_the_keys_digest(stopped, tmp_path):
    key: SigningKey = make_key()
    page = render(stopped, device_key_sha256=key.sha256).page
    (tmp_path / "device-key.pem").write_bytes(key.public_pem)
    (command,) = printed_commands(page, "openssl pkey ")
    ran = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=True, cwd=tmp_path)
    assert key.sha256 in ran.stdout
    assert key.sha256 in page.text()


# --- the same every time ------------------------------------------------------------------------------------


def test_same_journal_gives_the_same_bytes(stopped):
    assert render(stopped).data == render(stopped).data


def test_reader_gets_the_page_in_their_language_and_peoples_words_as_given(stopped):
    page = render(stopped, language="de").page
    words = page.text()
    assert page.attributes("html")[0]["lang"] == "de"
    assert "Reparatur angehalten" in words
    assert "Diese Seite ist auf Deutsch." in words
    for said in ("Old scratch at the rim.", "the lamp reflects at every angle", "R. Tavares-Holm",
                  "grit on the floor"):  # fmt: skip
        assert said in words


def test_reader_gets_a_measurement_in_their_language(completed):
    words = render(completed, language="de").page.text()
    assert (
        "Nicht entscheidbar: die Grenze von höchstens 0.2 mm liegt innerhalb der Messunsicherheit." in words
    )
    assert "Gemessen, Spalt (Hinweis): Nicht entscheidbar" in words


def test_reader_gets_the_checks_of_a_photo_in_their_language(stopped):
    words = render(stopped, language="de").page.text()
    assert re.search(r"Schärfe [\d.]+ \(Grenze [\d.]+ px Kantenanstieg\)", words)
    assert " limit " not in words and "edge rise" not in words


def test_finding_that_is_not_clear_bears_no_tick(stopped):
    (row,) = [row for row in render(stopped).html.split("<tr ") if "Finding: not clear" in row]
    assert "#mark-attention" in row
    assert "#mark-shown" not in row


def test_unknown_language_is_refused(stopped):
    with pytest.raises(PackageError, match="cannot be written in 'xx'"):
        render(stopped, language="xx")
