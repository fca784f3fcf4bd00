"""Attacks on the journal's bytes and chain, and on what is made from it."""

from __future__ import annotations

import json
from collections.abc import Callable

import rfc8785

from tests.hostile.bag import JOURNAL, MANIFEST, RECORD, REPORT, SEAL, TAG_MANIFEST, Bag, chained, sha
from tests.hostile.registry import attack

_SCRIPT = b'<script>document.title = "All in order"</script></body>'


@attack("journal-chain")
def event_removed(bag: Bag) -> Bag:
    """An event taken out of the middle, everything else sealed anew."""
    return _lines(bag, lambda lines: lines[:5] + lines[6:])


@attack("journal-chain")
def events_reordered(bag: Bag) -> Bag:
    """Two events in the other order."""
    return _lines(bag, lambda lines: [*lines[:5], lines[6], lines[5], *lines[7:]])


@attack("journal-chain")
def event_repeated(bag: Bag) -> Bag:
    """One event twice."""
    return _lines(bag, lambda lines: [*lines[:6], lines[5], *lines[6:]])


@attack("journal-chain")
def event_edited(bag: Bag) -> Bag:
    """A value changed in one event, its hash left."""
    return _edited(bag, b'"value":"120"', b'"value":"121"')


@attack("journal-chain")
def event_edited_with_its_hash(bag: Bag) -> Bag:
    """A value and the hash of its event changed, the later ones left."""
    events = bag.events
    events[3]["actor"] = "nobody"
    renewed = chained(events).splitlines(True)
    return _lines(bag, lambda lines: [*lines[:3], renewed[3], *lines[4:]])


@attack("journal-chain")
def journal_cut_at_its_end(bag: Bag) -> Bag:
    """The last events left out: what was found at the end is gone."""
    return _lines(bag, lambda lines: lines[:-3])


@attack("journal-chain")
def journal_cut_at_its_beginning(bag: Bag) -> Bag:
    """The first events left out."""
    return _lines(bag, lambda lines: lines[2:])


@attack("journal-chain")
def journal_cut_within_a_line(bag: Bag) -> Bag:
    """A last line without its end."""
    return _raw(bag, bag.files[JOURNAL][:-10])


@attack("journal-chain")
def journal_empty(bag: Bag) -> Bag:
    """No events at all."""
    return _raw(bag, b"")


@attack("journal-chain")
def journal_missing(bag: Bag) -> Bag:
    """No journal at all, and none listed."""
    return _raw(bag, None)


@attack("journal-chain")
def journal_with_doubled_key(bag: Bag) -> Bag:
    """A key twice: readers disagree which value counts."""
    return _edited(bag, b'"value":"120"', b'"value":"60","value":"120"')


@attack("journal-chain")
def journal_with_nan(bag: Bag) -> Bag:
    """A number that JSON does not have and lenient readers take."""
    return _edited(bag, b'"held_s":11.25', b'"held_s":NaN')


@attack("journal-chain")
def journal_with_huge_integer(bag: Bag) -> Bag:
    """An integer beyond 2^53 that other readers round."""
    return _edited(bag, b'"held_s":11.25', b'"held_s":' + b"9" * 5000)


@attack("journal-chain")
def journal_with_spaces(bag: Bag) -> Bag:
    """The same JSON in another spelling."""
    return _edited(bag, b'"held_s":11.25', b'"held_s": 11.25')


@attack("journal-chain")
def journal_with_other_number_spelling(bag: Bag) -> Bag:
    """The same number in another spelling."""
    return _edited(bag, b'"held_s":11.25', b'"held_s":1.125e1')


@attack("journal-chain")
def journal_with_blank_line(bag: Bag) -> Bag:
    """A line that some readers skip and some count."""
    return _lines(bag, lambda lines: [*lines[:4], b"\n", *lines[4:]])


@attack("journal-chain")
def journal_with_carriage_returns(bag: Bag) -> Bag:
    """Line ends of another system."""
    return _raw(bag, bag.files[JOURNAL].replace(b"\n", b"\r\n"))


@attack("journal-chain")
def journal_nested_deeply(bag: Bag) -> Bag:
    """Brackets enough to exhaust a recursive reader."""
    deep = b"[" * 100_000 + b"]" * 100_000
    return _edited(bag, b'"held_s":11.25', b'"held_s":' + deep)


@attack("journal-chain")
def journal_with_endless_line(bag: Bag) -> Bag:
    """A line longer than any event."""
    return _edited(bag, b'"held_s":11.25', b'"held_s":"' + b"x" * 3_000_000 + b'"')


@attack("journal-chain")
def journal_not_text(bag: Bag) -> Bag:
    """Bytes that are not UTF-8."""
    return _edited(bag, b'"value":"120"', b'"value":"\xff\xfe"')


@attack("journal-chain")
def journal_with_half_a_character(bag: Bag) -> Bag:
    """Half of a surrogate pair, which no text has."""
    return _edited(bag, b'"value":"120"', b'"value":"\\ud800"')


@attack("journal-chain")
def journal_with_impossible_time(bag: Bag) -> Bag:
    """A time that no calendar has."""
    return _edited(bag, b'"wall":"2026-03-02T', b'"wall":"2026-02-30T')


@attack("journal-chain")
def journal_of_newer_format(bag: Bag) -> Bag:
    """A journal format that this version does not know; it must say so and not guess."""
    return bag.rewrite(lambda events: events[0]["body"].update(format=2)).own()


@attack("originals")
def original_told_larger(bag: Bag) -> Bag:
    """An event that states another size than the photo has."""

    def larger(events: list) -> None:
        taken = next(event for event in events if event["kind"] == "photo-taken")
        taken["body"]["photo"]["bytes"] += 1

    return bag.rewrite(larger).own()


@attack("originals")
def original_without_checksum(bag: Bag) -> Bag:
    """An event that does not say which photo it means."""
    events = bag.events
    taken = next(event for event in events if event["kind"] == "photo-taken")
    del taken["body"]["photo"]["sha256"]
    bag.files[JOURNAL] = chained(events)
    return bag.own()


@attack("record")
def record_tells_other_outcome(bag: Bag) -> Bag:
    """A summary with another outcome than the journal's."""

    def other(record: dict) -> None:
        told = record["outcome"]["outcome"]
        record["outcome"]["outcome"] = "stopped" if told == "completed" else "completed"

    return _record(bag, other)


@attack("record")
def record_tells_more(bag: Bag) -> Bag:
    """A summary with a field more than the journal gives."""
    return _record(bag, lambda record: record.update(approved=True))


@attack("record")
def record_in_other_spelling(bag: Bag) -> Bag:
    """The same summary in another spelling."""
    bag.rewrite(lambda events: None)
    bag.files[RECORD] = json.dumps(json.loads(bag.files[RECORD])).encode()
    return bag.own()


@attack("record")
def record_missing(bag: Bag) -> Bag:
    """No summary, and none listed."""
    bag.rewrite(lambda events: None)
    del bag.files[RECORD]
    return bag.own()


@attack("record")
def record_of_unknown_format(bag: Bag) -> Bag:
    """A summary that claims another form to get out of the comparison."""
    return _record(bag, lambda record: record.update(format="evidence-record/9"))


@attack("report")
def report_replaced(bag: Bag) -> Bag:
    """Another page in the report's place."""
    return _report(bag, lambda page: b"<!doctype html><title>Report</title><p>All in order.</p>")


@attack("report")
def report_with_a_word_changed(bag: Bag) -> Bag:
    """One serial number changed in the page that people read."""
    return _report(bag, lambda page: page.replace(b"H7-004211", b"H7-004212", 1))


@attack("report")
def report_with_a_script(bag: Bag) -> Bag:
    """A page that runs something."""
    return _report(bag, lambda page: page.replace(b"</body>", _SCRIPT, 1))


@attack("report")
def report_that_loads_something(bag: Bag) -> Bag:
    """A page that tells somebody on the network that it was opened."""
    picture = b'<img src="http://127.0.0.1:9/seen.png" alt=""></body>'
    return _report(bag, lambda page: page.replace(b"</body>", picture, 1))


@attack("report")
def report_with_another_picture(bag: Bag) -> Bag:
    """A preview that is not of the photo beside it."""

    def exchanged(page: bytes) -> bytes:
        pictures = page.split(b'src="data:image/jpeg;base64,')
        one, other = (part.split(b'"', 1) for part in pictures[1:3])
        pictures[1] = other[0] + b'"' + one[1]
        return b'src="data:image/jpeg;base64,'.join(pictures)

    return _report(bag, exchanged)


@attack("report")
def report_missing(bag: Bag) -> Bag:
    """No report, and none listed."""
    bag.rewrite(lambda events: None)
    del bag.files[REPORT]
    return bag.own()


def _raw(bag: Bag, journal: bytes | None) -> Bag:
    """Another journal, whatever it is, with lists and seal made to fit."""
    bag.own()
    fields = json.loads(bag.files[SEAL])
    if journal is None:
        del bag.files[JOURNAL]
    else:
        bag.files[JOURNAL] = journal
    bag.list_payload().list_tags()
    fields["payload_manifest_sha256"] = sha(bag.files[MANIFEST])
    fields["tag_manifest_sha256"] = sha(bag.files[TAG_MANIFEST])
    fields["events"] = len((journal or b"").splitlines())
    return bag.sign(rfc8785.dumps(fields))


def _lines(bag: Bag, change: Callable[[list[bytes]], list[bytes]]) -> Bag:
    return _raw(bag, b"".join(change(bag.files[JOURNAL].splitlines(True))))


def _edited(bag: Bag, old: bytes, new: bytes) -> Bag:
    assert old in bag.files[JOURNAL], old
    return _raw(bag, bag.files[JOURNAL].replace(old, new, 1))


def _record(bag: Bag, change: Callable[[dict], None]) -> Bag:
    bag.rewrite(lambda events: None)
    record = json.loads(bag.files[RECORD])
    change(record)
    bag.files[RECORD] = rfc8785.dumps(record)
    return bag.own()


def _report(bag: Bag, change: Callable[[bytes], bytes]) -> Bag:
    bag.rewrite(lambda events: None)
    changed = change(bag.files[REPORT])
    assert changed != bag.files[REPORT]
    bag.files[REPORT] = changed
    return bag.own()
