"""The checker page as a clerk uses it: in a real browser, from a file, without a network."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from tests.checker.conftest import check
from tests.hostile.make import ATTACKS, build

WORDS = "holds", "fails", "not checked"


@pytest.fixture
def attacked(sound, tmp_path):
    return lambda name: build(ATTACKS[name], sound[0], tmp_path).path


def text(checker, selector: str) -> str:
    return checker.page.locator(selector).inner_text()


def test_nothing_is_asked_of_the_network(checker, sound):
    checker.give(sound[0])
    elsewhere = [url for url in checker.asked if not url.startswith(("blob:", "data:"))]
    assert [url.rsplit("/", 1)[1] for url in elsewhere] == ["checker.html"]


def test_browser_has_no_complaint(checker, stopped):
    checker.give(stopped)
    checker.page.locator("#report").scroll_into_view_if_needed()
    checker.page.frame_locator("iframe").locator("h1").wait_for()
    assert checker.complaints == []


def test_sound_package_has_nothing_that_fails(checker, sound):
    result = checker.give(sound[0])
    assert result["verdict"] == "holds"
    assert "Not checked here" in text(checker, "#overall .lead")


def test_each_check_is_told_in_one_of_three_words(checker, sound):
    result = checker.give(sound[0])
    marks = checker.page.locator(".checks .mark").all_inner_texts()
    assert marks == [c["outcome"] for c in result["checks"]]
    assert set(marks) <= set(WORDS)


def test_every_file_is_listed_with_its_checksum(checker, sound):
    checker.give(sound[0])
    with zipfile.ZipFile(sound[0]) as archive:
        names = [name.split("/", 1)[1] for name in archive.namelist()]
    assert checker.page.locator("#files tbody th").all_inner_texts() == names
    assert set(checker.page.locator("#files .mark").all_inner_texts()) == {"holds"}


def test_altered_file_shows_step_and_both_checksums(checker, attacked):
    result = checker.give(attacked("photo-byte-altered"))
    (altered,) = result["altered"]
    said = text(checker, "#altered").replace(" ", "")
    assert altered["path"] in said
    assert "inspect-slot" in said
    assert altered["expected"] in said
    assert altered["found"] in said
    assert altered["expected"] != altered["found"]


def test_removed_file_is_told_as_missing(checker, attacked):
    checker.give(attacked("photo-removed"))
    assert "The file is missing" in text(checker, "#altered")


def test_archive_that_is_not_plain_is_not_read(checker, attacked):
    result = checker.give(attacked("second-archive-behind"))
    assert {c["outcome"] for c in result["checks"][1:]} == {"not checked"}
    assert result["files"] == []


def test_what_is_no_package_is_said_so(checker, tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("not a package")
    result = checker.give(path)
    assert result["verdict"] == "unreadable"
    assert "Copy it again" in text(checker, "#overall")


def test_practice_package_is_never_evidence(checker, practice):
    result = checker.give(practice)
    assert result["verdict"] == "fails"
    assert "never evidence" in text(checker, "#overall .practice")


def test_key_list_tells_whose_key_it_is(checker, sound, trust_files):
    checker.give_keys(trust_files)
    key = check(checker.give(sound[0]), "key")
    assert key["outcome"] == "holds"
    assert "M. Okafor-Lind" in key["sentence"]


def test_forgery_without_flaw_fails_by_its_key(checker, attacked, trust_files):
    forged = attacked("everything-resealed")
    assert checker.give(forged)["verdict"] == "holds"
    checker.give_keys(trust_files)
    assert checker.give(forged)["failed"] == ["key"]


def test_altered_key_list_is_not_used(checker, sound, trust_files, tmp_path):
    altered = tmp_path / "key-list.toml"
    altered.write_bytes(trust_files[0].read_bytes().replace(b"tablet 3", b"tablet 4"))
    checker.give_keys([altered, *trust_files[1:]])
    key = check(checker.give(sound[0]), "key")
    assert key["outcome"] == "not checked"
    assert "signature does not hold" in key["sentence"]


def test_incomplete_key_list_is_refused(checker, trust_files):
    checker.page.set_input_files("#keys", trust_files[:2])
    checker.page.locator("#said").wait_for()
    assert "three files together" in text(checker, "#said")


def test_dropped_files_are_sorted_by_what_they_are(checker, sound, trust_files):
    checker.page.evaluate(
        """() => {
            const input = document.createElement("input");
            Object.assign(input, { type: "file", multiple: true, id: "hand" });
            document.body.append(input);
        }"""
    )
    checker.page.set_input_files("#hand", [sound[0], *trust_files])
    checker.page.evaluate(
        """() => {
            const carried = new DataTransfer();
            for (const file of document.getElementById("hand").files) carried.items.add(file);
            const drop = new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true });
            document.getElementById("drop").dispatchEvent(drop);
        }"""
    )
    assert check(checker.result(), "key")["outcome"] == "holds"


def test_two_packages_at_once_are_refused(checker, sound, stopped):
    checker.page.evaluate("() => { document.getElementById('package').multiple = true; }")
    checker.page.set_input_files("#package", [sound[0], stopped])
    assert "one package at a time" in text(checker, "#said")


def test_report_is_shown_without_script(checker, stopped):
    checker.give(stopped)
    frame = checker.page.locator("iframe")
    frame.scroll_into_view_if_needed()
    assert frame.get_attribute("sandbox") == ""
    assert "stopped" in checker.page.frame_locator("iframe").locator("h1").inner_text()


@pytest.mark.parametrize("name", ["report-with-a-script", "report-that-loads-something"])
def test_report_that_does_more_than_show_fails_and_stays_hidden(checker, attacked, name):
    result = checker.give(attacked(name))
    assert result["failed"] == ["report"]
    assert checker.page.locator("iframe").count() == 0


# Ways to run or to load that a page has besides script and img (HTML Living Standard).
@pytest.mark.parametrize(
    "sly",
    [
        '<img src="data:image/png;base64,AA==" onerror="alert(1)">',
        '<link rel="dns-prefetch" href="//depot.invalid">',
        '<link rel="icon" href="http://depot.invalid/seen.ico">',
        '<meta http-equiv="refresh" content="0;url=http://depot.invalid">',
        '<a href="javascript:alert(1)">more</a>',
        '<a href="http://depot.invalid">more</a>',
        '<a href="photos/1.jpg" ping="http://depot.invalid">more</a>',
        '<p style="background:url(http://depot.invalid/a.png)">x</p>',
        '<style>@import "http://depot.invalid/a.css";</style>',
        r"<style>p { background: \75rl(http://depot.invalid/a.png) }</style>",
        '<svg><use href="http://depot.invalid/a.svg#x"/></svg>',
        '<svg><image href="http://depot.invalid/a.png"/></svg>',
        '<img srcset="http://depot.invalid/a.png 2x">',
        '<video poster="http://depot.invalid/a.png"></video>',
        '<iframe srcdoc="<p>x</p>"></iframe>',
        '<object data="data:text/html;base64,AA=="></object>',
        '<form action="http://depot.invalid"><button>more</button></form>',
        '<base href="http://depot.invalid/">',
    ],
)
def test_sly_reports_are_seen(shared, sly):
    assert shared.part("(text) => checkerParts.reportProblems(text)", f"<p>x</p>{sly}")


def test_report_of_the_app_is_plain(shared, sound):
    with zipfile.ZipFile(sound[0]) as archive:
        name = next(name for name in archive.namelist() if name.endswith("report.html"))
        report = archive.read(name).decode()
    assert shared.part("(text) => checkerParts.reportProblems(text)", report) == []


def test_a_foreign_script_cannot_run_on_the_page(checker):
    checker.page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "window.ran = true";
            document.body.append(script);
        }"""
    )
    assert checker.page.evaluate("() => window.ran") is None


def test_pictures_can_be_paged_with_the_keyboard(checker, stopped):
    checker.give(stopped)
    first = text(checker, "#pictures figcaption")
    checker.page.get_by_role("button", name="Next picture").press("Enter")
    assert text(checker, "#pictures figcaption") != first
    drawn = "() => document.querySelector('#pictures img').decode().then(() => true)"
    assert checker.page.evaluate(drawn)


def test_spoken_note_can_be_played(checker, stopped):
    checker.give(stopped)
    seconds = checker.page.evaluate(
        """() => new Promise((done, failed) => {
            const audio = document.querySelector("#notes audio");
            audio.addEventListener("error", () => failed("the sound is refused"));
            audio.addEventListener("loadedmetadata", () => done(audio.duration));
            audio.load();
        })"""
    )
    assert seconds == pytest.approx(0.5, abs=0.01)


def test_result_can_be_saved(checker, sound):
    result = checker.give(sound[0])
    with checker.page.expect_download() as saving:
        checker.page.get_by_role("button", name="Save the result").click()
    saved = json.loads(Path(saving.value.path()).read_text())
    assert saved["overall"] == result["overall"]
    assert [c["name"] for c in saved["checks"]] == [c["name"] for c in result["checks"]]


def test_text_of_a_package_never_becomes_markup(checker, sound, tmp_path):
    path = tmp_path / "<img src=x onerror=window.ran=1>.zip"
    path.write_bytes(sound[0].read_bytes())
    checker.give(path)
    assert "<img src=x" in text(checker, "#overall")
    assert checker.page.evaluate("() => window.ran") is None


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_nothing_reaches_over_the_side(checker, attacked, width):
    checker.page.set_viewport_size({"width": width, "height": 800})
    checker.give(attacked("photo-byte-altered"))
    assert checker.page.evaluate("() => document.documentElement.scrollWidth") <= width


def test_result_takes_the_focus_for_a_screen_reader(checker, sound):
    checker.give(sound[0])
    assert checker.page.evaluate("() => document.activeElement.id") == "overall"


def test_controls_have_names_and_size(checker, sound):
    checker.page.locator("#trust summary").click()
    checker.give(sound[0])
    for control in checker.page.locator("button:visible, select, label.button").all():
        assert control.inner_text().strip()
        assert control.bounding_box()["height"] >= 44


# WCAG 2.2 success criterion 1.4.6: at least 7:1.
def test_text_has_contrast(checker, attacked):
    checker.give(attacked("photo-byte-altered"))
    assert checker.page.evaluate(CONTRAST) >= 7


CONTRAST = """() => {
    const parts = (colour) => colour.match(/[\\d.]+/g).map(Number);
    const light = ([r, g, b]) => {
        const [x, y, z] = [r, g, b].map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
        return 0.2126 * x + 0.7152 * y + 0.0722 * z;
    };
    const behind = (element) => {
        for (let at = element; at; at = at.parentElement) {
            const colour = parts(getComputedStyle(at).backgroundColor);
            if (colour.length < 4 || colour[3] === 1) return colour;
        }
        return [255, 255, 255];
    };
    let least = 21;
    for (const element of document.querySelectorAll("body *")) {
        const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
        if (!own || !element.checkVisibility() || element.disabled || ["SCRIPT", "STYLE"].includes(element.tagName)) continue;
        const [a, b] = [light(parts(getComputedStyle(element).color)), light(behind(element))];
        least = Math.min(least, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05));
    }
    return least;
}"""
