"""The page's addresses: each asks the desk room and fills a template, or makes one change."""

from collections.abc import Awaitable, Callable

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from evidence_app import limits
from evidence_app.deskpage import changing, looking
from evidence_app.deskpage.accounts import CLERK, READER, SUPERVISOR
from evidence_app.deskpage.guard import OPEN, SIGN_IN, same
from evidence_app.deskpage.place import DeskPlace
from evidence_app.deskpage.sessions import Sessions
from evidence_app.deskpage.stops_page import stops_page, work_page
from evidence_app.deskpage.templating import HERE, may, page, refused
from evidence_app.errors import EvidenceError, not_installed
from evidence_app.language import language, say, speaking

Answer = Callable[..., Awaitable[Response]]


def make_app(
    place: DeskPlace, sessions: Sessions, cookie: str, secure: bool, opening: str | None
) -> Starlette:
    """The page of one desk. ``opening`` is the token of the address that is opened on this
    computer, good for one browser; None: people sign in."""
    app = Starlette(
        routes=[
            Route("/", _asks(looking.worklist)),
            Route("/rows", _asks(looking.rows)),
            Route("/package/{package:int}", _asks(looking.package)),
            Route("/package/{package:int}/review", _asks(looking.review)),
            Route("/package/{package:int}/file/{name:path}", _asks(looking.file)),
            Route("/package/{package:int}/small/{name:path}", _asks(looking.small)),
            Route("/package/{package:int}/report.pdf", _asks(looking.report)),
            Route("/package/{package:int}/package.zip", _asks(looking.original)),
            Route("/receiving", _asks(looking.receiving)),
            Route("/stops", _asks(stops_page)),
            Route("/work", _asks(work_page)),
            Route("/settings", _asks(looking.settings)),
            Route("/export/{kind}", _asks(looking.exported)),
            Route("/receive", changing.receive, methods=["PUT"]),
            _change("/take-in", CLERK, changing.take_in),
            _change("/cancel", CLERK, changing.cancel),
            _change("/package/{package:int}/decide", CLERK, changing.decide),
            _change("/package/{package:int}/compare", READER, changing.compare),
            _change("/package/{package:int}/check", CLERK, changing.check_again),
            _change("/package/{package:int}/countersign", SUPERVISOR, changing.countersign),
            _change("/settings", SUPERVISOR, changing.set_settings),
            _change("/language", READER, changing.set_language),
            _change("/sign-out", READER, sign_out),
            Route(OPEN, open_here),
            Route(SIGN_IN, sign_in, methods=["GET", "POST"]),
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        exception_handlers={
            EvidenceError: _trouble,
            ModuleNotFoundError: _trouble,
            KeyError: _nothing_there,
        },
    )
    app.state.place, app.state.sessions = place, sessions
    app.state.cookie, app.state.secure, app.state.opening = cookie, secure, opening
    return app


def _asks(answer: Callable[[Request, DeskPlace], Response]) -> Answer:
    """Answers on a thread of its own: looking things up waits for the register."""

    async def asked(request: Request) -> Response:
        return await run_in_threadpool(answer, request, request.app.state.place)

    return asked


def _change(path: str, role: str, answer: Callable[..., Response]) -> Route:
    """A change: only with the session's token in the form, and only for who may."""

    async def changed(request: Request) -> Response:
        session = request.scope["session"]
        if int(request.headers.get("content-length") or limits.FORM_BYTES + 1) > limits.FORM_BYTES:
            return Response(say("This form is too large."), 413)
        form = await request.form(max_files=0, max_fields=1000)
        if not same(str(form.get("change", "")), session.change):
            return Response(say("This form is of an earlier visit. Load the page again."), 403)
        if not may(session, role):
            return refused(request)
        return await run_in_threadpool(answer, request, request.app.state.place, form)

    return Route(path, changed, methods=["POST"])


def _trouble(request: Request, error: Exception) -> Response:
    """What went wrong, where and what to do, in place of the page."""
    if isinstance(error, ModuleNotFoundError):
        error = not_installed(error)
    with speaking(language()):
        what = error.sentence(say=say) if isinstance(error, EvidenceError) else str(error)
        return page(request, "trouble.html", 409, what=what)


def _nothing_there(request: Request, _: Exception) -> Response:
    with speaking(language()):
        return page(request, "trouble.html", 404, what=say("There is nothing at this address."))


def sign_out(request: Request, place: DeskPlace, form: FormData) -> Response:
    request.app.state.sessions.end(request.scope["session_token"])
    return RedirectResponse(SIGN_IN, 303)


async def open_here(request: Request) -> Response:
    """The address that was opened on this computer: its token becomes a cookie, once."""
    state = request.app.state
    if request.scope["session"] is not None:
        return RedirectResponse("/", 303)
    if state.opening is None or not same(request.query_params.get("token", ""), state.opening):
        return HTMLResponse(say("This address was used before. Start the desk again."), 403)
    state.opening = None
    return _signed_in(request, state.sessions.begin(state.place.clerk, SUPERVISOR))


async def sign_in(request: Request) -> Response:
    place: DeskPlace = request.app.state.place
    if place.team is None:
        return page(
            request, "trouble.html", 401,
            what=say("This desk is opened by its own address. Start it again: evidence-app desk"),
        )  # fmt: skip
    problem = ""
    if request.method == "POST":
        form = await request.form(max_files=0, max_fields=4)
        try:
            account = await run_in_threadpool(
                place.team.sign_in, str(form.get("name", ""))[:80].strip(), str(form.get("password", ""))
            )
            token = request.app.state.sessions.begin(account.name, account.role)
            return _signed_in(request, token)
        except EvidenceError as error:
            problem = error.sentence(say=say)
    return page(request, "sign_in.html", 401 if problem else 200, problem=problem)


def _signed_in(request: Request, token: str) -> Response:
    answer = RedirectResponse("/", 303)
    answer.set_cookie(
        request.app.state.cookie, token, httponly=True, samesite="strict", path="/",
        secure=request.app.state.secure,
    )  # fmt: skip
    return answer
