"""The checker page's own code against published values, in a real browser.

Sources: FIPS 180-4 and the NIST example values for SHA-256; RFC 8032 section 7.1 and
5.1 for Ed25519; RFC 8785 sections 3.2.2 and 3.2.3 and its appendix B; RFC 4648 for
Base32 by way of Python; RFC 3339 section 5.8; RFC 8493 section 2.1.3.
"""

from __future__ import annotations

import base64
import hashlib
import shutil

import pytest
import rfc8785
from playwright.sync_api import sync_playwright

from evidence_app.locations import asset

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


@pytest.fixture(scope="module")
def call():
    """Call one of the page's parts with plain arguments; bytes travel as hex."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(asset("checker.html").as_uri())
        yield page.evaluate
        browser.close()


SHA = """([text, repeat, piece]) => {
    const bytes = new TextEncoder().encode(text.repeat(repeat));
    return checkerParts.hashInPieces(new Blob([bytes]), () => {}, piece);
}"""


# FIPS 180-4 and the NIST examples of SHA-256; the million letters are theirs too.
@pytest.mark.parametrize(
    ("text", "repeat", "digest"),
    [
        ("", 1, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        ("abc", 1, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            1,
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        ("a", 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
)
@pytest.mark.parametrize("piece", [61, 4096, 4 * 2**20])
def test_sha256_examples(call, text, repeat, digest, piece):
    if repeat > 1 and piece < 4096:
        piece = 997
    assert call(SHA, [text, repeat, piece]) == digest


def test_sha256_of_every_length_around_a_block(call):
    found = call(
        """() => Array.from({ length: 200 }, (_, n) =>
            checkerParts.sha256(Uint8Array.from({ length: n }, (_, i) => (i * 7) % 256)))"""
    )
    data = bytes(i * 7 % 256 for i in range(200))
    assert found == [hashlib.sha256(data[:n]).hexdigest() for n in range(200)]


HOLDS = """([key, message, signature]) => {
    const bytes = (hex) => Uint8Array.from(hex.match(/../g) || [], (pair) => parseInt(pair, 16));
    return checkerParts.signatureHolds(bytes(key), bytes(signature), bytes(message));
}"""

# RFC 8032 section 7.1, tests 1, 2 and 3.
VECTORS = [
    (
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
]


@pytest.mark.parametrize("vector", VECTORS, ids=["test-1", "test-2", "test-3"])
def test_ed25519_vectors(call, vector):
    assert call(HOLDS, list(vector)) is True


@pytest.mark.parametrize("vector", VECTORS, ids=["test-1", "test-2", "test-3"])
def test_ed25519_refuses_another_message(call, vector):
    key, message, signature = vector
    assert call(HOLDS, [key, message + "00", signature]) is False


# RFC 8032 section 5.1.7: S must be below the group's order.
def test_ed25519_refuses_the_order_added_to_s(call):
    key, message, signature = VECTORS[0]
    order = 2**252 + 27742317777372353535851937790883648493
    s = int.from_bytes(bytes.fromhex(signature[64:]), "little") + order
    assert call(HOLDS, [key, message, signature[:64] + s.to_bytes(32, "little").hex()]) is False


P = 2**255 - 19
D = -121665 * pow(121666, -1, P) % P


def _points_of_small_order() -> set[int]:
    """y of each point with 8 * point = neutral, by the curve equation alone (RFC 8032 5.1).

    Doubling a point of order 8 gives one of order 4, whose y is 0; so y^2 = -x^2, and
    with the curve d y^4 + 2 y^2 - 1 = 0.
    """
    found = set()
    y_squared = [(-1 + sign * _root(1 + D)) * pow(D, -1, P) % P for sign in (1, -1)]
    roots = [_root(square) for square in y_squared if pow(square, (P - 1) // 2, P) == 1]
    order_eight = roots[0]
    for y in (0, 1, P - 1, order_eight, P - order_eight):
        point = (_root((y * y - 1) * pow(D * y * y + 1, -1, P)), y)
        for _ in range(3):
            point = _double(point)
        assert point == (0, 1)
        found.add(y)
    return found


def _root(square: int) -> int:
    """A square root modulo P (RFC 8032 section 5.1.3)."""
    root = pow(square % P, (P + 3) // 8, P)
    if (root * root - square) % P:
        root = root * pow(2, (P - 1) // 4, P) % P
    assert (root * root - square) % P == 0
    return root


def _double(point: tuple[int, int]) -> tuple[int, int]:
    """Edwards addition of a point to itself (RFC 8032 section 5.1.4, affine)."""
    x, y = point
    product = D * x * x * y * y % P
    across = 2 * x * y * pow(1 + product, -1, P) % P
    return across, (y * y + x * x) * pow(1 - product, -1, P) % P


def test_every_spelling_of_a_point_of_small_order_is_refused(call):
    spelled = [
        (y + more + (sign << 255)).to_bytes(32, "little").hex()
        for y in _points_of_small_order()
        for more in (0, P)
        for sign in (0, 1)
        if y + more < 2**255
    ]
    assert len(spelled) == 14
    code = """(keys) => keys.map((hex) =>
        checkerParts.hasSmallOrder(Uint8Array.from(hex.match(/../g), (pair) => parseInt(pair, 16))))"""
    assert call(code, spelled) == [True] * 14
    assert call(code, [key for key, _, _ in VECTORS]) == [False] * 3


CANONICAL = "(text) => checkerParts.canonical(JSON.parse(text))"


# RFC 8785 section 3.2.2, the sample object and its canonical form.
def test_canonical_sample(call):
    sample = r"""{
        "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
        "literals": [null, true, false]
    }"""
    expected = (
        r'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert call(CANONICAL, sample) == expected


# RFC 8785 section 3.2.3: keys are sorted by UTF-16 code units.
def test_canonical_order_of_keys(call):
    sample = r"""{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One", "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis"}"""
    code = "(text) => Object.values(JSON.parse(checkerParts.canonical(JSON.parse(text))))"
    written = call(CANONICAL, sample)
    order = ["Carriage Return", "One", "Control", "Latin Small", "Euro Sign", "Emoji", "Hebrew"]
    places = [written.index(value) for value in order]
    assert places == sorted(places)
    assert len(call(code, sample)) == 7


# RFC 8785 appendix B.
@pytest.mark.parametrize(
    ("double", "text"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("44b52d02c7e14af6", "1e+23"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555553", "333333333.3333332"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_canonical_numbers(call, double, text):
    code = """(hex) => {
        const view = new DataView(new ArrayBuffer(8));
        view.setBigUint64(0, BigInt("0x" + hex));
        return checkerParts.canonical(view.getFloat64(0));
    }"""
    assert call(code, double) == text


@pytest.mark.parametrize("double", ["7fffffffffffffff", "7ff0000000000000"], ids=["nan", "infinity"])
def test_canonical_refuses_what_json_does_not_have(call, double):
    code = """(hex) => {
        const view = new DataView(new ArrayBuffer(8));
        view.setBigUint64(0, BigInt("0x" + hex));
        try { return checkerParts.canonical(view.getFloat64(0)); } catch { return "refused"; }
    }"""
    assert call(code, double) == "refused"


READ = """(text) => {
    try { checkerParts.readCanonical(new TextEncoder().encode(text)); return "read"; }
    catch (error) { return error.message; }
}"""


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1,"a":1}', '{"b":1,"a":2}', '{"a": 1}', '{"a":1.0}', '{"a":1e0}', '{"a":-0}',
        '{"a":"\\u0041"}', '{"a":"\\/"}', '{"a":NaN}', '{"a":"\\ud800"}', '{"a":1}\n', "\ufeff{}",
        '{"a":9007199254740993}', "{'a':1}", '{"__proto__":1,"__proto__":1}', "[" * 5000 + "]" * 5000,
    ],
)  # fmt: skip
def test_other_spellings_are_refused(call, text):
    assert call(READ, text) != "read"


@pytest.mark.parametrize("text", ['{"__proto__":1}', '{"a":{"constructor":null}}', '"\U0001f600"', "[]"])
def test_canonical_spellings_are_read(call, text):
    assert rfc8785.dumps(__import__("json").loads(text)).decode() == text
    assert call(READ, text) == "read"


def test_fingerprint_is_base32_of_a_digest(call):
    head, key = "ab" * 32, "cd" * 32
    digest = hashlib.sha256(f"evidence-app fingerprint 1\n{head}\n{key}\n".encode()).digest()
    letters = base64.b32encode(digest).decode()[:20]
    grouped = "-".join(letters[at : at + 4] for at in range(0, 20, 4))
    assert call("([head, key]) => checkerParts.fingerprintOf(head, key)", [head, key]) == grouped


# RFC 3339 section 5.8 and 5.7.
@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("1985-04-12T23:20:50.52Z", 482196050520),
        ("1996-12-19T16:39:57-08:00", 851042397000),
        ("1990-12-31T23:59:60Z", 662688000000),
        ("1990-12-31T15:59:60-08:00", 662688000000),
        ("1937-01-01T12:00:27.87+00:20", -1041337172130),
        ("1990-12-30T23:59:60Z", None),
        ("2026-02-29T00:00:00Z", None),
        ("2026-03-02T08:15:30", None),
        ("2026-03-02 08:15:30Z", None),
    ],
)
def test_times(call, text, moment):
    assert call("(text) => checkerParts.momentOf(text)", text) == moment


# RFC 8493 section 2.1.3: only CR, LF and % are encoded.
@pytest.mark.parametrize(
    ("written", "meant"),
    [("a%0Db", "a\rb"), ("a%0ab", "a\nb"), ("a%25b", "a%b"), ("a%250Ab", "a%0Ab"), ("a%41b", "a%41b")],
)
def test_manifest_paths(call, written, meant):
    assert call("(text) => checkerParts.decodePath(text)", written) == meant
