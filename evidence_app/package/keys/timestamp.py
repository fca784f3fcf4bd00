"""RFC 3161 time tokens: a third party's word that a seal existed at a time.

The message imprint is the SHA-256 of ``seal.sig``. The signature fixes the
whole of ``seal.json`` (a key of short order, under which it would not, is
refused), and a token over it also shows that the key had been used by then,
which is what matters when the key is revoked later; signature time-stamps of
ETSI EN 319 122-1 (5.2.1) do the same. ``openssl ts -verify -data seal.sig``
checks it without this app.
"""

import hashlib
import re
import shutil
import zipfile
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from msgspec import Struct
from rfc3161_client import (
    HashAlgorithm,
    PKIStatus,
    TimestampRequestBuilder,
    TimeStampResponse,
    VerificationError,
    VerifierBuilder,
    decode_timestamp_response,
)

from evidence_app import limits
from evidence_app.errors import PackageError, turned
from evidence_app.package import layout
from evidence_app.package.durable import durable_file
from evidence_app.package.keys.token_der import with_sorted_certificates
from evidence_app.package.zip.archive import Archive, Unreadable, open_archive, read_all
from evidence_app.package.zip.writing import CHUNK, entry_info
from evidence_app.sentence import Sentence, sentence, sentences_beside

_WORDS = sentences_beside(__file__)

_SHA256_OID = "2.16.840.1.101.3.4.2.1"
_OPENSSL_REASON = re.compile(r'data: "(?:Verify error: )?([^"]+)"')


class TokenTime(Struct, frozen=True):
    """What a token says: the seal existed at ``at`` give or take ``accuracy``
    (None when the authority states none). ``authority`` is its certificate's
    subject (RFC 4514), or empty when the token was only read, not checked."""

    at: datetime
    accuracy: timedelta | None
    authority: str
    serial_number: int


def make_request(package: Path) -> bytes:
    """A time-stamp request (DER, a ``.tsq`` file) for the package's seal.

    It asks for the authority's certificate, so that the answer can be checked
    offline, and has a random nonce against replayed answers.
    """
    builder = TimestampRequestBuilder().data(_read_seal_signature(_open(package)))
    request = builder.hash_algorithm(HashAlgorithm.SHA256).nonce(nonce=True)
    return request.cert_request(cert_request=True).build().as_bytes()


def attach_token(package: Path, token: bytes) -> TokenTime:
    """Add the authority's answer (DER, a ``.tsr`` file) to the package as seal.tsr.

    Every byte in front of the ZIP directory stays as it was, and the package is
    replaced whole or not at all. Attaching the same token twice changes
    nothing. Raises PackageError when the token is for something else, when it
    was refused by the authority, or when another token is there.
    """
    sealed = _open(package)
    time = read_token(token, _read_seal_signature(sealed))
    if layout.TIME_TOKEN in sealed.sizes:
        if read_all(sealed, layout.TIME_TOKEN, limits.TOKEN_BYTES) == token:
            return time
        raise PackageError.worded(_WORDS["another"], str(package))
    with durable_file(package) as file:
        with package.open("rb") as source:
            shutil.copyfileobj(source, file, CHUNK)
        with zipfile.ZipFile(file, "a") as archive:
            stamp = archive.infolist()[0].date_time
            archive.writestr(entry_info(f"{sealed.top}/{layout.TIME_TOKEN}", len(token), stamp), token)
    return time


def read_token(token: bytes, seal_signature: bytes) -> TokenTime:
    """What the token says, its signature not looked at.

    Raises PackageError unless it is a granted answer for exactly this seal.
    """
    return _token_time(_decode(token, seal_signature), "")


def check_token(token: bytes, seal_signature: bytes, authorities: bytes) -> TokenTime:
    """What the token says, if one of the given authorities signed it.

    ``authorities`` is PEM with the certificates that the desk trusts as roots
    for time. Certificates are judged at the token's time, and nothing is asked
    on the network, so a revocation of the authority itself is not seen. Raises
    PackageError saying what does not hold.
    """
    response = _decode(token, seal_signature)
    verifier = VerifierBuilder()
    for certificate in read_certificates(authorities):
        verifier = verifier.add_root_certificate(certificate)
    try:
        verifier.build().verify(response, hashlib.sha256(seal_signature).digest())
    except VerificationError as error:
        raise PackageError(
            sentence(
                "the time token does not hold under the given authority ({plain})", plain=_plain(error)
            ),
            where=layout.TIME_TOKEN,
        ) from error
    return _token_time(response, _signer(response))


def read_certificates(pem: bytes, where: str = "time authority") -> list[x509.Certificate]:
    """The certificates in a PEM file, each once. Raises PackageError when there are none."""
    what = sentence("there is no usable certificate in this file")
    remedy = sentence("give the authority's root certificate as PEM")
    with turned(ValueError, PackageError, what, where, remedy):
        return list(dict.fromkeys(x509.load_pem_x509_certificates(pem)))


def _decode(token: bytes, seal_signature: bytes) -> TimeStampResponse:
    what = sentence("this is not a time token that can be used: {error}")
    remedy = sentence("ask the authority again with a new request")
    with turned(ValueError, PackageError, what, layout.TIME_TOKEN, remedy):
        if len(token) > limits.TOKEN_BYTES:
            raise ValueError("it is too large")
        response = decode_timestamp_response(with_sorted_certificates(token))
        if PKIStatus(response.status) != PKIStatus.GRANTED:
            reason = "; ".join(response.status_string) or PKIStatus(response.status).name
            raise ValueError(f"the authority refused: {reason}")
        imprint = response.tst_info.message_imprint
    expected = hashlib.sha256(seal_signature).digest()
    if imprint.hash_algorithm.dotted_string != _SHA256_OID or imprint.message != expected:
        other = sentence("the time token is for something else than this seal")
        raise PackageError(other, where=layout.TIME_TOKEN)
    return response


def _plain(error: VerificationError) -> str:
    """The reason alone, out of the library's dump of OpenSSL's errors."""
    found = _OPENSSL_REASON.search(str(error))
    return found[1] if found else str(error)


def _token_time(response: TimeStampResponse, authority: str) -> TokenTime:
    said = response.tst_info
    accuracy = None
    if said.accuracy is not None:
        accuracy = timedelta(
            seconds=said.accuracy.seconds or 0,
            milliseconds=said.accuracy.millis or 0,
            microseconds=said.accuracy.micros or 0,
        )
    return TokenTime(said.gen_time, accuracy, authority, said.serial_number)


def _signer(response: TimeStampResponse) -> str:
    """Subject of the certificate that signed the token; checked by the verifier before."""
    signer = next(iter(response.signed_data.signer_infos))
    for der in response.signed_data.certificates:
        certificate = x509.load_der_x509_certificate(der)
        if (certificate.issuer, certificate.serial_number) == (signer.issuer, signer.serial_number):
            return certificate.subject.rfc4514_string()
    return ""


def _read_seal_signature(archive: Archive) -> bytes:
    if archive.sizes.get(layout.SEAL_SIGNATURE) != 64:
        raise _no_package(str(archive.path), sentence("it has no signature of 64 bytes"))
    return read_all(archive, layout.SEAL_SIGNATURE, 64)


def _open(package: Path) -> Archive:
    try:
        archive = open_archive(package)
    except Unreadable as error:
        raise _no_package(package, error.what) from error
    if archive.problems:
        raise _no_package(package, archive.problems[0])
    if archive.kind != "zip":
        raise _no_package(package, sentence("it is a folder"))
    return archive


def _no_package(package: Path | str, problem: Sentence) -> PackageError:
    return PackageError.worded(_WORDS["no-package"], str(package), error=problem)
