"""Attacks on summary and report behind the name of another version of app or format."""

from __future__ import annotations

import base64
import re

from tests.hostile.bag import RECORD, REPORT, Bag
from tests.hostile.registry import attack
from tests.making import note, photo

_SCRIPT = b"<script>document.title = 'All in order'</script></body>"
_PICTURE = b'src="data:image/jpeg;base64,'
_SOUND = b'src="data:audio/flac;base64,'


@attack("report")
def script_under_another_version(bag: Bag) -> Bag:
    """A version of the app that this one does not know, as an excuse for a script."""
    return _report(bag, b"</body>", _SCRIPT, app="99.0")


@attack("report")
def outcome_in_report_under_another_version(bag: Bag) -> Bag:
    """The report of a job that ended otherwise, and a version of the app as its excuse."""
    return _report(bag, b"Repair completed", b"Repair stopped", app="99.0")


@attack("record")
def outcome_in_record_under_another_version(bag: Bag) -> Bag:
    """The summary of a job that ended otherwise, and a version of the app as its excuse."""
    return _record(bag, b'"outcome":"completed"', b'"outcome":"stopped"', app="99.0")


@attack("record")
def outcome_in_record_of_earlier_format(bag: Bag) -> Bag:
    """The summary of a job that ended otherwise, told in an earlier format."""
    _record(bag, b'"outcome":"completed"', b'"outcome":"stopped"')
    return _record(bag, b"evidence-record/2", b"evidence-record/1")


@attack("report")
def script_in_report_of_earlier_layout(bag: Bag) -> Bag:
    """A layout that is not written any more, as an excuse for a script."""
    return _earlier(bag, b"</body>", _SCRIPT)


@attack("report")
def outcome_in_report_of_earlier_layout(bag: Bag) -> Bag:
    """The report of a job that ended otherwise, in an earlier layout."""
    return _earlier(bag, b"Repair completed", b"Repair stopped")


@attack("report")
def serial_in_report_of_earlier_layout(bag: Bag) -> Bag:
    """The report of another unit, in an earlier layout."""
    return _earlier(bag, b"H7-004211", b"H7-004212")


@attack("report")
def picture_in_report_of_earlier_layout(bag: Bag) -> Bag:
    """A picture that is none of the photos, in a report of an earlier layout."""
    other = base64.b64encode(photo(900))
    page = re.sub(re.escape(_PICTURE) + b'[^"]*', _PICTURE + other, bag.files[REPORT], count=1)
    return _earlier(bag, bag.files[REPORT], page)


@attack("report")
def sound_in_report_of_earlier_layout(bag: Bag) -> Bag:
    """A note that is none of those recorded, in a report of an earlier layout."""
    other = base64.b64encode(note(900))
    page = re.sub(re.escape(_SOUND) + b'[^"]*', _SOUND + other, bag.files[REPORT], count=1)
    return _earlier(bag, bag.files[REPORT], page)


@attack("report")
def report_that_loads_from_elsewhere(bag: Bag) -> Bag:
    """A style that asks another place for a picture, in a report of an earlier layout."""
    return _earlier(bag, b"</body>", b'<p style="background:url(//127.0.0.1/x)"></p></body>')


def _earlier(bag: Bag, old: bytes, new: bytes) -> Bag:
    bag.files[REPORT] = bag.files[REPORT].replace(old, new)
    return _report(bag, b"evidence-report/3", b"evidence-report/1")


def _report(bag: Bag, old: bytes, new: bytes, **seal: str) -> Bag:
    return _replaced(bag, REPORT, old, new, **seal)


def _record(bag: Bag, old: bytes, new: bytes, **seal: str) -> Bag:
    return _replaced(bag, RECORD, old, new, **seal)


def _replaced(bag: Bag, name: str, old: bytes, new: bytes, **seal: str) -> Bag:
    assert old in bag.files[name]
    bag.files[name] = bag.files[name].replace(old, new)
    return bag.own(**seal)
