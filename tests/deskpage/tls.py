"""A certificate of this computer's own, for a desk that serves a team."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID


def certificate_in(folder: Path) -> tuple[Path, Path]:
    """Writes a certificate for ``localhost`` and its key into ``folder``."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), False)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    (folder / "desk.pem").write_bytes(made.public_bytes(pem))
    plain = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    (folder / "desk-key.pem").write_bytes(key.private_bytes(pem, *plain))
    return folder / "desk.pem", folder / "desk-key.pem"
