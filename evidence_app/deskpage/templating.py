"""The templates of the page and what they may call."""

from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from evidence_app.deskpage.accounts import ROLES
from evidence_app.deskpage.sessions import SignedIn
from evidence_app.language import LANGUAGES, language, say, say_many
from evidence_app.package.report.words import size, visible, when

HERE = Path(__file__).resolve().parent


@lru_cache
def environment() -> Environment:
    """Everything that a template writes is escaped, hidden characters made visible."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=lambda value: visible("" if value is None else value),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(say=say, say_many=say_many, language=language, LANGUAGES=LANGUAGES)
    made.filters.update(when=when, size=size, pass_to=lambda value, call: call(value))
    return made


def may(session: SignedIn | None, role: str) -> bool:
    """Whether who is signed in may do what ``role`` may."""
    return session is not None and ROLES.index(session.role) >= ROLES.index(role)


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """``template`` filled for whoever asks."""
    session: SignedIn | None = request.scope["session"]
    text = (
        environment()
        .get_template(template)
        .render(
            session=session,
            may=lambda role: may(session, role),
            place=request.app.state.place,
            path=request.url.path,
            query=str(request.url.query),
            **values,
        )
    )
    return HTMLResponse(text, status)


_KINDS = {
    "csv": "text/csv",
    "json": "application/json",
    "parquet": "application/vnd.apache.parquet",
    "pdf": "application/pdf",
}


def download(data: bytes, name: str) -> Response:
    """A file to be kept under ``name``, whose ending says its kind."""
    ascii_name = name.encode("ascii", "replace").decode().replace('"', "-")
    kept = {"Content-Disposition": f'attachment; filename="{ascii_name}"'}
    return Response(data, media_type=_KINDS[name.rpartition(".")[2]], headers=kept)


def refused(request: Request) -> HTMLResponse:
    """What an account that may not do this is told."""
    return page(request, "trouble.html", 403, what=say("Your account may not do this."))
