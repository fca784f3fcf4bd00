"""What a person wrote is shown as it was written, wherever it is shown, in every language.

Each word here is also a text of the catalogues, so that translating it by mistake would show.
The same is made a second time with words that are none: by how much more often a word stands in
a text than there is how often it was shown, and that must be the same in every language.
"""

from __future__ import annotations

import asyncio
import subprocess
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from evidence_app import language
from evidence_app.cli import main
from evidence_app.desk.register import Register
from evidence_app.deskpage.accounts import SUPERVISOR
from evidence_app.deskpage.app import make_app
from evidence_app.deskpage.guard import Guard
from evidence_app.deskpage.place import DeskPlace
from evidence_app.deskpage.sessions import Sessions
from evidence_app.deskpage.settings import DeskSettings
from tests import making

WORDS = {
    "TECHNICIAN": "working",
    "SERIAL": "residue",
    "SUPERVISOR": "passes",
    "NOTE": "photo",
    "KEPT": "Next step",
    "claim": "gap",
    "model": "closed",
    "decided": "no decision",
}
OTHERS = {name: f"Qx{number}vw" for number, name in enumerate(WORDS)}


def test_every_word_is_a_text_of_the_catalogue():
    with language.speaking("de"):
        assert not [word for word in WORDS.values() if language.say(word) == word]


class Desk:
    """A job, its package in a register with a decision, and every text that shows them."""

    def __init__(self, folder: Path, words: dict[str, str]) -> None:
        self._home = folder / "home"
        with pytest.MonkeyPatch.context() as patch:
            for name in ("TECHNICIAN", "SERIAL", "SUPERVISOR", "NOTE", "KEPT"):
                patch.setattr(making, name, words[name])
            model = f'model = "{words["model"]}"'.encode()
            steps = making.STEP_LIST.replace(b'model = "Ossmere H7"', model)
            self._job = making.make_closed_job(
                self._home / "jobs" / "one", outcome="stopped", claim=words["claim"], step_list=steps
            )
            self.package = making.seal(self._job, folder / "out", step_list=steps).path
        self.run(f"desk intake --without-measuring --by clerk {self.package}")
        self.run("desk decide 1 returned --by", words["TECHNICIAN"], "--reason", words["decided"])

    def run(self, line: str, *more: str) -> str:
        environment = {"EVIDENCE_APP_HOME": str(self._home)}
        return CliRunner().invoke(main, [*line.split(), *more], env=environment).output

    def sealed_report(self, _spoken: str) -> str:
        with zipfile.ZipFile(self.package) as archive:
            return archive.read(next(n for n in archive.namelist() if n.endswith("report.html"))).decode()

    def printed(self, spoken: str) -> str:
        pdf = self.package.with_name(f"{spoken}.pdf")
        self.run(f"--language {spoken} desk print {self.package} {pdf}")
        done = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, check=True)
        return done.stdout.decode()

    def page(self, address: str, spoken: str) -> str:
        register = Register(self._home / "desk" / "register.db")
        sessions, here = Sessions(), "desk.test"
        app = make_app(DeskPlace(register, DeskSettings()), sessions, "c", False, None)
        guard = Guard(app, frozenset({here}), sessions, "c", False)
        headers = {"host": here, "cookie": f"c={sessions.begin('nobody', SUPERVISOR)}"}
        path, _, query = address.partition("?")
        scope = {
            "type": "http",
            "method": "GET",
            "path": path,
            "query_string": query.encode(),
            "headers": [
                (name.encode(), value.encode())
                for name, value in (headers | {"accept-language": spoken}).items()
            ],
        }
        sent: list[dict] = []

        async def receive():
            return {"type": "http.request", "body": b""}

        async def send(message):
            sent.append(message)

        asyncio.run(guard(scope, receive, send))
        assert sent[0]["status"] == 200, sent
        return b"".join(message.get("body", b"") for message in sent).decode()


@pytest.fixture(scope="module")
def desks(tmp_path_factory):
    yield tuple(Desk(tmp_path_factory.mktemp("desk"), words) for words in (WORDS, OTHERS))
    language.use("en")


def command(line: str):
    return lambda desk, spoken: desk.run(f"--language {spoken} " + line.format(package=desk.package))


def page(address: str):
    return lambda desk, spoken: desk.page(address, spoken)


SHOWN = {
    "job list": (command("job list"), {"SERIAL", "claim"}),
    "job show": (command("job show one"), {"SERIAL", "claim"}),
    "verify": (command("verify {package}"), {"SERIAL", "claim"}),
    "review": (command("review {package}"), {"SERIAL", "claim", "TECHNICIAN", "SUPERVISOR", "KEPT"}),
    "desk list": (command("desk list"), {"SERIAL", "claim", "TECHNICIAN"}),
    "desk show": (command("desk show 1"), {"SERIAL", "claim", "TECHNICIAN", "model", "decided"}),
    "stops": (command("desk stops --by technician"), {"TECHNICIAN"}),
    "sealed report": (Desk.sealed_report, set(WORDS) - {"decided"}),
    "PDF": (Desk.printed, set(WORDS)),
    "page, list": (page("/?waiting=all"), {"SERIAL", "claim", "TECHNICIAN"}),
    "page, rows": (page("/rows?waiting=all"), {"SERIAL", "claim", "TECHNICIAN"}),
    "page, package": (
        page("/package/1"),
        {"SERIAL", "claim", "TECHNICIAN", "model", "decided", "NOTE", "KEPT"},
    ),
    "page, beside": (page("/package/1?beside=1"), {"SERIAL", "claim", "TECHNICIAN", "model", "decided"}),
    "page, review": (page("/package/1/review"), {"SERIAL", "claim", "TECHNICIAN", "SUPERVISOR", "KEPT"}),
    "page, stops": (page("/stops?by=technician&names=1"), {"TECHNICIAN"}),
}


@pytest.mark.parametrize("place", SHOWN)
def test_a_persons_words_appear_unchanged(desks, place):
    show, expected = SHOWN[place]
    more = {}
    for spoken in language.LANGUAGES:
        theirs, plain = (show(desk, spoken) for desk in desks)
        for name in expected:
            assert OTHERS[name] in plain, (spoken, name)
            # A language may take more pages, each with the claim in its margin.
            in_place = plain.count(OTHERS[name])
            more[spoken, name] = theirs.count(WORDS[name]) - plain.count(WORDS[name]) - in_place
            assert more[spoken, name] >= 0, (spoken, name)
    assert all(more["en", name] == more["de", name] for name in expected)


def test_what_a_kept_photo_lacks_is_said_in_german_on_the_page(desks):
    told = desks[0].page("/package/1", "de")
    assert "Die Kamera auf ein größeres Bild stellen" in told
    assert "Set the camera to a larger picture size" not in told
