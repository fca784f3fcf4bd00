"""Tickets: unforgeable, one of a kind, refused when altered."""

from __future__ import annotations

import json

import pytest

from evidence_app.errors import SigningKeyError
from evidence_app.package.keys.ticket import check_ticket, make_ticket, read_ticket
from evidence_app.practice.clock import PracticeClock
from tests.making import CLAIM, DEPOT, make_key

KEY = make_key(9)
START = "2026-03-02T07:55:00.000+01:00"


def test_a_ticket_of_the_depot_is_accepted():
    ticket = check_ticket(*make_ticket(KEY, DEPOT, CLAIM, PracticeClock(START)), KEY.public)
    assert (ticket.depot, ticket.claim, ticket.issued_at) == (DEPOT, CLAIM, START)


def test_a_ticket_may_be_for_any_claim():
    assert check_ticket(*make_ticket(KEY, DEPOT), KEY.public).claim is None


def test_no_two_tickets_have_the_same_number():
    nonces = {read_ticket(make_ticket(KEY, DEPOT)[0]).nonce for _ in range(50)}
    assert len(nonces) == 50


def test_a_ticket_of_another_depot_is_refused():
    with pytest.raises(SigningKeyError, match="signature does not hold"):
        check_ticket(*make_ticket(make_key(8), DEPOT), KEY.public)


def test_an_altered_ticket_is_refused():
    data, signature = make_ticket(KEY, DEPOT, CLAIM)
    with pytest.raises(SigningKeyError, match="signature does not hold"):
        check_ticket(data.replace(b"0117", b"0118"), signature, KEY.public)


def resigned(data: bytes) -> tuple[bytes, bytes]:
    return data, KEY.sign(data)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: t | {"nonce": "00"}, "nonce"),
        (lambda t: t | {"more": 1}, "more"),
        (lambda t: {k: v for k, v in t.items() if k != "issued_at"}, "issued_at"),
        (lambda t: t | {"issued_at": "yesterday"}, "RFC 3339"),
        (lambda t: t | {"format": "evidence-ticket/9"}, "format"),
    ],
)
def test_an_unsound_ticket_is_refused_even_when_signed(change, said):
    fields = change(json.loads(make_ticket(KEY, DEPOT)[0]))
    data = json.dumps(fields, sort_keys=True, separators=(",", ":")).encode()
    with pytest.raises(SigningKeyError, match=said):
        check_ticket(*resigned(data), KEY.public)


@pytest.mark.parametrize("twice", [b'{"claim":null,"claim":null,', b'{ "claim":null,'])
def test_a_ticket_in_another_spelling_is_refused(twice):
    data = make_ticket(KEY, DEPOT)[0].replace(b'{"claim":null,', twice)
    with pytest.raises(SigningKeyError, match="canonical"):
        check_ticket(*resigned(data), KEY.public)


@pytest.mark.parametrize("data", [b"", b"\xff\x00", b"[]", b"[" * 100_000])
def test_something_else_is_a_clear_error(data):
    with pytest.raises(SigningKeyError, match="not a ticket"):
        read_ticket(data)
