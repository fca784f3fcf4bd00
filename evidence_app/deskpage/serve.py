"""Serving the page: on this computer alone, or to a depot's team over TLS."""

import ipaddress
import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn
from cryptography import x509

from evidence_app.deskpage.accounts import Accounts
from evidence_app.deskpage.app import make_app
from evidence_app.deskpage.guard import OPEN, Guard
from evidence_app.deskpage.place import DeskPlace
from evidence_app.deskpage.sessions import IDLE_S, LONGEST_S, Sessions
from evidence_app.errors import EvidenceError, turned
from evidence_app.sentence import sentence, sentences_beside

_WORDS = sentences_beside(__file__)

LOOPBACK = "127.0.0.1"


def serve_here(
    place: DeskPlace, port: int = 0, browse: bool = True, told: Callable[[str], None] = print
) -> None:
    """Serve on this computer until it is ended, and open the page in the browser.

    ``told`` gets the address, which one browser can use once. Raises EvidenceError.
    """
    listening = _bound(LOOPBACK, port)
    port = listening.getsockname()[1]
    opening = secrets.token_urlsafe(32)
    address = f"http://{LOOPBACK}:{port}{OPEN}?token={opening}"
    sessions = Sessions()
    cookie = f"desk-{port}"
    app = make_app(place, sessions, cookie, False, opening)
    hosts = frozenset((f"{LOOPBACK}:{port}", f"localhost:{port}"))
    told(address)
    if browse:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    _run(Guard(app, hosts, sessions, cookie, False), listening)


def serve_team(
    place: DeskPlace, address: str, certificate: Path, key: Path, told: Callable[[str], None] = print
) -> None:
    """Serve to named accounts over TLS at ``address`` (``host:port``) until it is ended.

    Only the names in the certificate are answered. Raises EvidenceError.
    """
    team: Accounts | None = place.team
    if team is None or not team.all():
        raise EvidenceError.worded(_WORDS["no-account"])
    host, _, number = address.rpartition(":")
    if not host or not number.isdigit():
        raise EvidenceError.worded(_WORDS["no-address"], address=address)
    names = _names_in(certificate)
    listening = _bound(host.strip("[]"), int(number))
    sessions = Sessions(IDLE_S, LONGEST_S)
    cookie = "__Host-desk"
    hosts = frozenset(f"{name}:{number}" for name in names) | (
        frozenset(names) if number == "443" else frozenset()
    )
    app = make_app(place, sessions, cookie, True, None)
    for name in sorted(names):
        told(f"https://{name}:{number}/")
    _run(Guard(app, hosts, sessions, cookie, True), listening, certificate, key)


def _run(
    guarded: Guard, listening: socket.socket, certificate: Path | None = None, key: Path | None = None
) -> None:
    # No access log: the first address holds the token.
    config = uvicorn.Config(
        guarded,
        log_level="warning",
        access_log=False,
        server_header=False,
        ws="none",
        lifespan="off",
        timeout_keep_alive=30,
        ssl_certfile=certificate,
        ssl_keyfile=key,
    )
    what = sentence("the certificate or its key cannot be used ({problem})")
    remedy = sentence("name a certificate (PEM) and the key that belongs to it")
    with turned(OSError, EvidenceError, what, str(certificate), remedy):
        uvicorn.Server(config).run(sockets=[listening])


def _bound(host: str, port: int) -> socket.socket:
    what = sentence("this address cannot be listened at ({reason})")
    remedy = sentence("name an address of this computer and a port that is free")
    with turned(OSError, EvidenceError, what, f"{host}:{port}", remedy):
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        made = socket.socket(family, socket.SOCK_STREAM)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
        made.listen(128)
    return made


def _names_in(certificate: Path) -> set[str]:
    """The host names and addresses that a certificate is for (RFC 6125: its alternative names)."""
    what = sentence("the certificate cannot be used ({problem})")
    remedy = sentence("name a certificate (PEM) with the desk's name in it")
    with turned(
        (OSError, ValueError, x509.ExtensionNotFound), EvidenceError, what, str(certificate), remedy
    ):
        read = x509.load_pem_x509_certificate(certificate.read_bytes())
        found = read.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    names = {name.lower() for name in found.get_values_for_type(x509.DNSName)}
    for each in found.get_values_for_type(x509.IPAddress):
        names.add(f"[{each}]" if isinstance(each, ipaddress.IPv6Address) else str(each))
    return names
