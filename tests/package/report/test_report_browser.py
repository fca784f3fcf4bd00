"""The report in a real browser: it loads nothing, complains of nothing, and fits a phone."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from playwright.sync_api import sync_playwright

from evidence_app.record.event import Draft, seal_draft
from tests.package.report.reporting import new_bench, render, run_stopped

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    bench = new_bench(tmp_path_factory.mktemp("browser") / "job")
    run_stopped(bench)
    yield bench.job.record
    bench.job.close()


@pytest.fixture(scope="module")
def file(record, tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_bytes(render(record).data)
    return path


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield launched
        launched.close()


@pytest.fixture
def opened(browser, file):
    """A page of the asked width with the report, and what it asked for and said."""
    pages = []

    def open_at(width: int):
        page = browser.new_page(viewport={"width": width, "height": 800})
        page.asked, page.said = [], []
        page.on("request", lambda request: page.asked.append(request.url))
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.goto(file.as_uri())
        pages.append(page)
        return page

    yield open_at
    for page in pages:
        page.close()


def test_nothing_is_asked_of_the_network(opened, file):
    page = opened(1280)
    assert [url for url in page.asked if not url.startswith("data:")] == [file.as_uri()]


def test_browser_has_no_complaint(opened):
    assert opened(1280).said == []


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_nothing_reaches_over_the_side(opened, width):
    page = opened(width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [360, 1280])
def test_endless_words_do_not_widen_the_page(browser, record, tmp_path, width):
    opened = record.events[0]
    endless = "W" * 3000
    device = {"family": endless, "model": endless, "serial": endless}
    body = opened.body | {"claim": endless, "technician": endless, "device": device}
    first = seal_draft(Draft("job-opened", body), opened.instant, 1, "0" * 64)
    path = tmp_path / "endless.html"
    path.write_bytes(render(record, [first, *record.events[1:]]).data)
    page = browser.new_page(viewport={"width": width, "height": 800})
    page.goto(path.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()


def test_every_picture_is_drawn(opened):
    drawn = opened(360).evaluate(
        "Promise.all([...document.images].map(i => i.decode().then(() => i.naturalWidth)))"
    )
    assert len(drawn) == 3
    assert all(drawn)


def test_note_can_be_played(opened):
    seconds = opened(1280).evaluate(
        """new Promise((done, failed) => {
            const audio = document.querySelector('audio');
            audio.addEventListener('error', () => failed('the sound is refused'));
            audio.addEventListener('loadedmetadata', () => done(audio.duration));
            audio.load();
        })"""
    )
    assert seconds == pytest.approx(2.0, abs=0.01)


def test_tables_stay_tables_on_a_phone(opened):
    roles = opened(360).evaluate("[...document.querySelectorAll('table')].map(t => t.getAttribute('role'))")
    assert roles
    assert set(roles) == {"table"}


def test_printed_pages_bear_the_practice_mark_and_their_number(opened, tmp_path):
    target = tmp_path / "report.pdf"
    opened(1280).pdf(path=target, format="A4")
    text = subprocess.run(
        ["pdftotext", "-layout", str(target), "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = text.split("\f")[:-1]
    assert len(pages) >= 3
    for number, page in enumerate(pages, start=1):
        assert "PRACTICE, not evidence" in page
        assert f"Page {number} of {len(pages)}" in page


def test_printed_page_has_file_names_in_the_place_of_players(opened):
    page = opened(1280)
    page.emulate_media(media="print")
    assert not page.locator("audio").first.is_visible()
    assert page.locator("text=data/voice/").first.is_visible()
