"""Puts the certificates of a time token into the order that DER asks for.

X.690 11.6 orders the members of a SET OF by their encodings. OpenSSL 3.0 and
authorities built on it write the certificates as they come when a token holds
a chain, and the strict parser used here refuses that. The certificates are not
covered by the token's signature, so reading a copy with the same members in
order changes nothing of what is proved; the token itself is kept as it came.
"""

_SEQUENCE = 0x30
_CONTEXT_0 = 0xA0
_LONGEST_LENGTH = 4


def with_sorted_certificates(token: bytes) -> bytes:
    """``token``, a DER TimeStampResp (RFC 3161 2.4.2), with its certificate set sorted.

    A token without certificates comes back as it is. Raises ValueError when the
    outer structure is not that of a time token.
    """
    response = _members(token, *_whole(token, _SEQUENCE))
    if len(response) < 2:
        return token
    content_info = _members(token, *_inside(token, response[1], _SEQUENCE))
    if len(content_info) != 2:
        raise ValueError("the token is not a ContentInfo")
    explicit = _inside(token, content_info[1], _CONTEXT_0)
    signed_data = _members(token, *_inside(token, _members(token, *explicit)[0], _SEQUENCE))
    if len(signed_data) < 4 or token[signed_data[3][0]] != _CONTEXT_0:
        return token
    start, end = _inside(token, signed_data[3], _CONTEXT_0)
    certificates = sorted(token[a:b] for a, b in _members(token, start, end))
    return token[:start] + b"".join(certificates) + token[end:]


def _whole(data: bytes, tag: int) -> tuple[int, int]:
    _, end = _element(data, 0, len(data))
    if end != len(data):
        raise ValueError("something follows the token")
    return _inside(data, (0, end), tag)


def _inside(data: bytes, element: tuple[int, int], tag: int) -> tuple[int, int]:
    """Start and end of the content of an element that must have this tag."""
    if data[element[0]] != tag:
        raise ValueError(f"tag {tag:#04x} expected at byte {element[0]}")
    return _element(data, *element)[0], element[1]


def _members(data: bytes, start: int, end: int) -> list[tuple[int, int]]:
    """Start and end of each element between ``start`` and ``end``; at least one."""
    found: list[tuple[int, int]] = []
    while start < end or not found:
        _, after = _element(data, start, end)
        found.append((start, after))
        start = after
    return found


def _element(data: bytes, start: int, end: int) -> tuple[int, int]:
    """Start of the content and end of the element at ``start`` (X.690 8.1.3, definite form)."""
    if end - start < 2:
        raise ValueError("the token ends too early")
    length, content = data[start + 1], start + 2
    if length >= 0x80:
        octets = length - 0x80
        if not 0 < octets <= _LONGEST_LENGTH:
            raise ValueError(f"a length at byte {start + 1} is not in DER")
        length, content = int.from_bytes(data[content : content + octets]), content + octets
    if content + length > end:
        raise ValueError("the token ends too early")
    return content, content + length
