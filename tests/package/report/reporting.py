"""Reports of jobs run through the real guide, and ways of reading their HTML."""

from __future__ import annotations

from collections.abc import Iterable
from html.parser import HTMLParser
from pathlib import Path

import cv2
import numpy as np

from evidence_app.job import commands as c
from evidence_app.job.summary.model import Summary
from evidence_app.job.summary.summarise import summarise
from evidence_app.package import layout
from evidence_app.package.report.page import render_report
from evidence_app.package.report.previews import Embedded
from evidence_app.photo.results import worded
from evidence_app.practice.clock import PracticeClock
from evidence_app.record.event import Event
from evidence_app.record.record import Record
from evidence_app.sentence import sentence
from evidence_app.steplist.load import loads
from tests.job.bench import STEP_LIST, Bench, Photos

KEY = "5e" * 32


class Report:
    """A rendered report with what it was made from."""

    def __init__(self, summary: Summary, data: bytes, events: tuple[Event, ...]) -> None:
        self.summary = summary
        self.data = data
        self.html = data.decode("utf-8")
        self.events = events

    @property
    def page(self) -> Page:
        return Page(self.html)


class Page(HTMLParser):
    """The elements of a page, its words, and the words below each id."""

    VOID = frozenset({"meta", "link", "img", "br"})

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.within: dict[str, list[str]] = {}
        self._open: list[tuple[str, str | None]] = []
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        found = dict(attributes)
        self.elements.append((tag, found))
        if tag not in self.VOID:
            self._open.append((tag, found.get("id")))

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data):
        if any(tag == "style" for tag, _ in self._open):
            return
        for _, name in self._open:
            if name:
                self.within.setdefault(name, []).append(data)
        self.within.setdefault("", []).append(data)

    def text(self, name: str = "") -> str:
        """The words of the element with that id, or of the page, single-spaced."""
        return " ".join(" ".join(self.within.get(name, [])).split())

    def attributes(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


def render(record: Record, events: Iterable[Event] | None = None, **changes) -> Report:
    """The report of a record, or of other events with its originals."""
    events = record.events if events is None else tuple(events)
    summary = summarise(loads(STEP_LIST, "step list"), events)
    places = {place.sha256: place.path for place in layout.place_originals(record.events)}
    arguments = {
        "fingerprint": layout.fingerprint(record.head, KEY),
        "head": record.head,
        "device_key_sha256": KEY,
        "path_in_package": places.__getitem__,
    } | changes
    load = arguments.pop("load", lambda sha256: record.path_of(sha256).read_bytes())
    embedded = arguments.pop("embedded", Embedded)
    arguments["embedded"] = embedded(load, arguments.pop("kept", None))
    return Report(summary, render_report(summary, **arguments), events)


def new_bench(folder: Path) -> Bench:
    bench = Bench(folder, PracticeClock("2026-03-02T08:00:00.000+01:00"), Photos())
    bench.open()
    return bench


def run_stopped(bench: Bench) -> None:
    """A job stopped at its slot, with a retake, a kept photo, notes and a clock set back."""
    bench.work_to("clean")
    bench.photo("slot", blurred=True)
    bench.photo("slot")
    bench.do(c.WriteNote("Old scratch at the rim."))
    bench.clock.set_wall("2026-03-02T07:00:00.000+01:00")
    bench.do(c.GiveFinding("not-clear"))
    kept = bench.photo("reason", "stop-reason", blurred=True)
    bench.do(c.KeepPhoto(kept, "the lamp reflects at every angle"))
    note = bench.say(2.0)
    bench.do(c.AddTranscript(note, "grid on the floor", "engine", "1"))
    bench.do(c.CorrectTranscript(note, "grit on the floor"))
    bench.do(c.GiveName("supervisor", "R. Tavares-Holm"), c.Close())


def run_completed(bench: Bench) -> None:
    """A job done to its end, with a hold that was first too short and a measurement."""
    bench.work_to("press")
    bench.hold(4)
    bench.work_to("inspect")
    bench.settle()
    seam = bench.job.state.photo_of("inspect", "seam").sha256
    markup = _png()
    result = {"kind": "gap", "unit": "mm", "value": 0.19, "U": 0.06, "conformity": "inconclusive",
              "method": "edges",
              **worded(sentence("Inconclusive: the limit of at most {limits} mm lies inside the "
                                "measurement uncertainty.", limits=0.2))}  # fmt: skip
    bench.do(c.RecordMeasurement(seam, "seam", result, markup))
    bench.do(c.GiveFinding("clear"), c.GoOn(), c.Close())


def _png() -> bytes:
    picture = np.full((90, 120, 3), 200, np.uint8)
    cv2.circle(picture, (60, 45), 20, (90, 40, 120), 3)
    return cv2.imencode(".png", picture)[1].tobytes()
