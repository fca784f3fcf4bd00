"""What stands before every answer: which host was meant, who asks, and what a page may load."""

import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from evidence_app.deskpage.sessions import Sessions
from evidence_app.language import LANGUAGES, of_the_system, speaking

SIGN_IN, OPEN = "/sign-in", "/open"
_FREE = ("/static/", SIGN_IN, OPEN)
_LANGUAGE = "desk-language"

_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' blob:; media-src 'self' blob:; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
}


class Guard:
    """ASGI around the pages. ``hosts`` are the values of Host that are answered: another one
    means that a name somewhere was pointed at this computer. A change whose Origin is another
    page's is refused; one without Origin too. Who is not signed in gets no page."""

    def __init__(
        self, app: ASGIApp, hosts: frozenset[str], sessions: Sessions, cookie: str, secure: bool
    ) -> None:
        self._app, self._hosts, self._sessions = app, hosts, sessions
        self._cookie, self._secure = cookie, secure

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            # No page uses a web socket.
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        cookies = cookie_parser(headers.get("cookie", ""))
        guarded = self._with_headers(send, scope["path"])
        host = headers.get("host", "").lower()
        if host not in self._hosts:
            await PlainTextResponse("This host is not served here.", 421)(scope, receive, guarded)
            return
        origin = f"{'https' if self._secure else 'http'}://{host}"
        if scope["method"] not in ("GET", "HEAD") and headers.get("origin") != origin:
            await PlainTextResponse("This came from another page.", 403)(scope, receive, guarded)
            return
        session = self._sessions.find(cookies.get(self._cookie, ""))
        scope["session"] = session
        scope["session_token"] = cookies.get(self._cookie, "")
        if session is None and not scope["path"].startswith(_FREE):
            answer = (
                RedirectResponse(SIGN_IN, 303)
                if scope["method"] == "GET" and "text/html" in headers.get("accept", "")
                else PlainTextResponse("Nobody is signed in.", 401)
            )
            await answer(scope, receive, guarded)
            return
        with speaking(_language(cookies.get(_LANGUAGE), headers.get("accept-language"))):
            await self._app(scope, receive, guarded)

    def _with_headers(self, send: Send, path: str) -> Send:
        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault(
                    "Cache-Control", "no-cache" if path.startswith("/static/") else "no-store"
                )
                if self._secure:
                    headers["Strict-Transport-Security"] = "max-age=31536000"
            await send(message)

        return with_headers


def same(given: str, expected: str) -> bool:
    """Compared in a time that does not tell where they differ."""
    return secrets.compare_digest(given.encode(), expected.encode())


def _language(chosen: str | None, accepted: str | None) -> str:
    """The one chosen on the page, else the first of the browser's that there is (RFC 9110,
    12.5.4, in the order written), else the system's."""
    if chosen in LANGUAGES:
        return chosen
    for part in (accepted or "").split(","):
        code = part.split(";")[0].strip().split("-")[0].lower()
        if code in LANGUAGES:
            return code
    return of_the_system()
