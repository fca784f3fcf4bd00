"""Puts the certificates of a time token into the order that DER asks for.

X.690 11.6 orders the members of a SET OF by their encodings. OpenSSL 3.0 and
authorities built on it write the certificates as they come when a token holds
a chain, and the strict parser used here refuses that. The certificates are not
covered by the token's signature, so reading a copy with the same members in
order changes nothing of what is proved; the token itself is kept as it came.
"""

from Crypto.Util.asn1 import DerSequence

_CERTIFICATES = 0xA0


def with_sorted_certificates(token: bytes) -> bytes:
    """``token``, a DER TimeStampResp (RFC 3161 2.4.2), with its certificate set sorted.

    A token without certificates comes back as it is. Raises ValueError when the
    outer structure is not that of a time token.
    """
    try:
        response = DerSequence().decode(token)
        if len(response) < 2:
            return token
        content_info = DerSequence().decode(response[1], nr_elements=2)
        signed_data = DerSequence(explicit=0).decode(content_info[1])
        if len(signed_data) < 4 or signed_data[3][0] != _CERTIFICATES:
            return token
        certificates = DerSequence(implicit=0).decode(signed_data[3])
        # The library writes a set of its own only where all members are of one kind.
        signed_data[3] = DerSequence(sorted(certificates[:]), implicit=0).encode()
    except (ValueError, IndexError, TypeError) as error:  # the last: a number for a structure
        raise ValueError("it is cut, or not written in DER (X.690)") from error
    content_info[1] = signed_data.encode()
    response[1] = content_info.encode()
    return response.encode()
