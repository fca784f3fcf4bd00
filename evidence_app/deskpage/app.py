"""The page's addresses: each asks the desk room and fills a template, or makes one change."""

import contextlib
import hashlib
import shutil
from collections.abc import Awaitable, Callable
from pathlib import Path
from urllib.parse import unquote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from evidence_app.desk import export
from evidence_app.desk.countersign import AGREE
from evidence_app.desk.intake import Intake
from evidence_app.desk.review import sign_review
from evidence_app.desk.search import find
from evidence_app.desk.worklist import ALL, WAITING
from evidence_app.deskpage import rows_shown
from evidence_app.deskpage.accounts import CLERK, READER, SUPERVISOR
from evidence_app.deskpage.guard import OPEN, SIGN_IN, same
from evidence_app.deskpage.package_shown import compare_words, package_shown, shown_of
from evidence_app.deskpage.photos_shown import steps_shown
from evidence_app.deskpage.place import DeskPlace, Opened
from evidence_app.deskpage.receiving import NO_ROOM, new_folder
from evidence_app.deskpage.rows_shown import LENGTH, asked_of, row_shown
from evidence_app.deskpage.sessions import Sessions
from evidence_app.deskpage.stopped_shown import stopped_of
from evidence_app.deskpage.taken_shown import arrival_of
from evidence_app.deskpage.templating import HERE, may, page
from evidence_app.errors import EvidenceError
from evidence_app.language import LANGUAGES, say, speaking
from evidence_app.package.keys.signing_key import open_key
from evidence_app.package.report.words import bare
from evidence_app.photo.preview import make_preview
from evidence_app.record.clock import SystemClock
from evidence_app.sentence import sentence

Answer = Callable[..., Awaitable[Response]]
_MOST_FORM = 64 * 1024
_LEAVE_FREE = 200 * 10**6
_KINDS = {b"\xff\xd8\xff": "image/jpeg", b"\x89PNG": "image/png", b"fLaC": "audio/flac"}


def make_app(
    place: DeskPlace, sessions: Sessions, cookie: str, secure: bool, opening: str | None
) -> Starlette:
    """The page of one desk. ``opening`` is the token of the address that is opened on this
    computer, good for one browser; None: people sign in."""
    app = Starlette(
        routes=[
            Route("/", _asks(worklist)),
            Route("/rows", _asks(rows)),
            Route("/package/{package:int}", _asks(package)),
            Route("/package/{package:int}/review", _asks(review)),
            Route("/package/{package:int}/file/{name:path}", _asks(file)),
            Route("/package/{package:int}/small/{name:path}", _asks(small)),
            Route("/package/{package:int}/report.pdf", _asks(report)),
            Route("/package/{package:int}/package.zip", _asks(original)),
            Route("/receiving", _asks(receiving)),
            Route("/stops", _asks(stops)),
            Route("/settings", _asks(settings)),
            Route("/export/{kind}", _asks(exported)),
            Route("/receive", _receive, methods=["PUT"]),
            _change("/take-in", CLERK, take_in),
            _change("/cancel", CLERK, cancel),
            _change("/package/{package:int}/decide", CLERK, decide),
            _change("/package/{package:int}/compare", READER, compare),
            _change("/package/{package:int}/check", CLERK, check_again),
            _change("/package/{package:int}/countersign", SUPERVISOR, countersign),
            _change("/settings", SUPERVISOR, set_settings),
            _change("/language", READER, set_language),
            _change("/sign-out", READER, sign_out),
            Route(OPEN, open_here),
            Route(SIGN_IN, sign_in, methods=["GET", "POST"]),
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        exception_handlers={EvidenceError: _trouble, KeyError: _nothing_there},
    )
    app.state.place, app.state.sessions = place, sessions
    app.state.cookie, app.state.secure, app.state.opening = cookie, secure, opening
    return app


# --- what every address has ------------------------------------------------------------------


def _asks(answer: Callable[[Request, DeskPlace], Response]) -> Answer:
    """Answers on a thread of its own: looking things up waits for the register."""

    async def asked(request: Request) -> Response:
        return await run_in_threadpool(answer, request, request.app.state.place)

    return asked


def _change(path: str, role: str, answer: Callable[..., Response]) -> Route:
    """A change: only with the session's token in the form, and only for who may."""

    async def changed(request: Request) -> Response:
        session = request.scope["session"]
        if int(request.headers.get("content-length") or _MOST_FORM + 1) > _MOST_FORM:
            return Response(say("This form is too large."), 413)
        form = await request.form(max_files=0, max_fields=40)
        if not same(str(form.get("change", "")), session.change):
            return Response(say("This form is of an earlier visit. Load the page again."), 403)
        if not may(session, role):
            return _refused(request)
        return await run_in_threadpool(answer, request, request.app.state.place, form)

    return Route(path, changed, methods=["POST"])


def _refused(request: Request) -> Response:
    text = say("Your account may not do this.")
    return page(request, "trouble.html", 403, what=text)


def _trouble(request: Request, error: Exception) -> Response:
    """What went wrong, where and what to do, in place of the page."""
    with speaking(_language(request)):
        what = error.sentence(say=say) if isinstance(error, EvidenceError) else str(error)
        return page(request, "trouble.html", 409, what=what)


def _nothing_there(request: Request, _: Exception) -> Response:
    with speaking(_language(request)):
        return page(request, "trouble.html", 404, what=say("There is nothing at this address."))


def _language(request: Request) -> str:
    from evidence_app.language import language

    return language()


def _by(request: Request, place: DeskPlace) -> str:
    """Whose name a change gets in the register's history."""
    return request.scope["session"].name if place.team else place.clerk


def _back(request: Request, fallback: str) -> RedirectResponse:
    return RedirectResponse(fallback, 303)


# --- looking -----------------------------------------------------------------------------


def worklist(request: Request, place: DeskPlace) -> Response:
    asked = asked_of(request.query_params)
    found, opened, trouble = None, None, ""
    try:
        found = place.worklist.page(asked.wanted, asked.sort, asked.descending, asked.start, LENGTH)
        if not request.query_params.get("waiting") and not _searches(asked):
            # It opens on what waits: the first class that has something in it.
            first = next((name for name in WAITING if found.counts[name]), ALL)
            return RedirectResponse(f"/?{asked.address(waiting=first)}", 303)
        if asked.package is not None:
            opened = _detail(place, asked.package)
    except EvidenceError as error:
        trouble = error.sentence(say=say)
    return page(
        request,
        "worklist.html",
        409 if trouble else 200,
        asked=asked,
        found=found,
        rows=[row_shown(row) for row in found.rows] if found else [],
        shown=rows_shown,
        trouble=trouble,
        **_batches(place),
        **(opened or {"detail": None}),
    )


def _searches(asked: rows_shown.ListAsked) -> bool:
    return asked.address(sort="", down="", package="") != ""


def rows(request: Request, place: DeskPlace) -> Response:
    """The rows of one stretch of the list, and how many there are."""
    asked = asked_of(request.query_params)
    found = place.worklist.page(asked.wanted, asked.sort, asked.descending, asked.start, LENGTH)
    answer = page(
        request,
        "rows.html",
        asked=asked,
        found=found,
        shown=rows_shown,
        rows=[row_shown(row) for row in found.rows],
    )
    answer.headers["X-Total"], answer.headers["X-Start"] = str(found.total), str(found.start)
    return answer


def package(request: Request, place: DeskPlace) -> Response:
    """One package: beside the list as a fragment, or on a page of its own."""
    shown = _detail(place, request.path_params["package"])
    template = "detail.html" if "beside" in request.query_params else "package.html"
    return page(request, template, **shown, answer=None)


def _detail(place: DeskPlace, number: int) -> dict:
    opened: Opened = place.open(number)
    contents = opened.contents
    steps: tuple = ()
    owed = None
    if contents is not None and contents.summary is not None:
        steps, owed = steps_shown(contents), shown_of(contents.summary)
    return {
        "detail": package_shown(opened.entry),
        "number": number,
        "entry": opened.entry,
        "why_not": opened.why_not,
        "steps": steps,
        "owed": owed,
        "bare": bare,
    }


def review(request: Request, place: DeskPlace) -> Response:
    opened = place.review_of(request.path_params["package"])
    return page(
        request,
        "review.html",
        number=request.path_params["package"],
        stopped=stopped_of(opened),
        failed=opened.result.failed,
        steps=steps_shown(opened.contents),
        paths={photo.sha256: photo.path for photo in opened.contents.photos},
    )


def file(request: Request, place: DeskPlace) -> Response:
    """A photo, drawing or recording of a package as it is; nothing else of it is served."""
    name = request.path_params["name"]
    if not name.startswith(("data/photos/", "data/markup/", "data/voice/")):
        raise KeyError(name)
    data = place.file_of(request.path_params["package"], name)
    kind = next((kind for head, kind in _KINDS.items() if data.startswith(head)), None)
    if kind is None:
        raise KeyError(name)
    return Response(data, media_type=kind, headers=_of_a_package(data))


def small(request: Request, place: DeskPlace) -> Response:
    name = request.path_params["name"]
    data = place.file_of(request.path_params["package"], name)
    kind = "markup" if name.startswith("data/markup/") else "photo"
    made = make_preview(data, kind).jpeg
    return Response(made, media_type="image/jpeg", headers=_of_a_package(made))


def _of_a_package(data: bytes) -> dict[str, str]:
    return {
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Cache-Control": "private, max-age=600",
        "ETag": f'"{hashlib.sha256(data).hexdigest()[:32]}"',
    }


def report(request: Request, place: DeskPlace) -> Response:
    from evidence_app.desk.printing import print_report

    path = place.path_of(request.path_params["package"])
    if path is None:
        raise KeyError("package")
    made = print_report(
        path,
        key_list=place.key_list(),
        accept_practice=place.practice,
        language=_language(request),
        register=place.register,
    )
    return _download(made, "application/pdf", f"report-{path.stem}.pdf")


def original(request: Request, place: DeskPlace) -> Response:
    from starlette.responses import FileResponse

    path = place.path_of(request.path_params["package"])
    if path is None or not path.is_file():
        raise KeyError("package")
    return FileResponse(path, media_type="application/zip", filename=path.name)


def exported(request: Request, place: DeskPlace) -> Response:
    found = find(place.register, asked_of(request.query_params).wanted)
    if request.path_params["kind"] == "csv":
        return _download(export.as_csv(found), "text/csv", "packages.csv")
    if request.path_params["kind"] == "json":
        return _download(export.as_json(place.register, found), "application/json", "packages.json")
    raise KeyError("kind")


def _download(data: bytes, kind: str, name: str) -> Response:
    ascii_name = name.encode("ascii", "replace").decode().replace('"', "-")
    return Response(
        data, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{ascii_name}"'}
    )


def stops(request: Request, place: DeskPlace) -> Response:
    from evidence_app.deskpage.stops_page import stops_page

    return stops_page(request, place)


# --- taking in ----------------------------------------------------------------------------


async def _receive(request: Request) -> Response:
    """One dropped file, streamed to the disk; the last of a batch begins its intake."""
    place: DeskPlace = request.app.state.place
    session = request.scope["session"]
    if not same(request.headers.get("x-change", ""), session.change):
        return Response(say("This form is of an earlier visit. Load the page again."), 403)
    if not may(session, CLERK):
        return Response(say("Your account may not do this."), 403)
    name = _plain_name(unquote(request.headers.get("x-name", "")))
    size = int(request.headers.get("content-length") or 0)
    place.dropped.mkdir(parents=True, exist_ok=True)
    if size + _LEAVE_FREE > shutil.disk_usage(place.dropped).free:
        return JSONResponse({"trouble": say(NO_ROOM)}, 507)
    folder = await run_in_threadpool(new_folder, place.dropped)
    path, written = folder / name, 0
    try:
        with path.open("xb") as copy:
            async for piece in request.stream():
                written += len(piece)
                if written > size:
                    raise OSError("more than was announced")
                await run_in_threadpool(copy.write, piece)
        if written != size:
            raise OSError("less than was announced")
    except Exception as error:
        path.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            folder.rmdir()
        if isinstance(error, OSError):
            return JSONResponse({"trouble": say("The file did not arrive whole.")}, 400)
        raise
    return JSONResponse({"path": str(path.relative_to(place.dropped))})


def _plain_name(name: str) -> str:
    """The last part of a name, without what a file system could take for something else."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(c if c.isprintable() and c not in '<>:"|?*' else "-" for c in last).strip(". ")
    return kept.encode()[:180].decode("utf-8", "ignore") or "package.zip"


def take_in(request: Request, place: DeskPlace, form: FormData) -> Response:
    """Begin with what was dropped, or with a path of this computer."""
    by = _by(request, place)
    dropped = [place.dropped / str(name) for name in form.getlist("dropped")]
    if any(".." in path.parts or not path.is_relative_to(place.dropped) for path in dropped):
        raise KeyError("dropped")
    if dropped:
        place.receiving.begin(dropped, by, dropped=True)
    elif path := str(form.get("path", "")).strip():
        if place.team:
            return _refused(request)
        place.receiving.begin([Path(path).expanduser()], by)
    return RedirectResponse("/", 303)


def receiving(request: Request, place: DeskPlace) -> Response:
    return page(request, "batches.html", **_batches(place))


def _batches(place: DeskPlace) -> dict:
    batches = place.receiving.batches[::-1]
    return {"batches": batches, "arrival_of": arrival_of}


def cancel(request: Request, place: DeskPlace, form: FormData) -> Response:
    place.receiving.cancel()
    return RedirectResponse("/", 303)


# --- deciding --------------------------------------------------------------------------------


def decide(request: Request, place: DeskPlace, form: FormData) -> Response:
    number = request.path_params["package"]
    reason = str(form.get("reason", ""))[:4000]
    at = SystemClock().now().wall
    place.register.decide(number, str(form.get("decision", "")), reason, _by(request, place), at)
    return _to_package(form, number)


def compare(request: Request, place: DeskPlace, form: FormData) -> Response:
    number = request.path_params["package"]
    shown = _detail(place, number)
    answer = compare_words(shown["entry"], str(form.get("typed", ""))[:200])
    return page(request, "package.html", **shown, answer=answer)


def check_again(request: Request, place: DeskPlace, form: FormData) -> Response:
    number = request.path_params["package"]
    path = place.path_of(number)
    if path is None:
        raise KeyError("package")
    Intake(place.register, place.desk_of(_by(request, place))).take(path, again=True)
    return _to_package(form, number)


def countersign(request: Request, place: DeskPlace, form: FormData) -> Response:
    """On this computer only, with the key that is here and the PIN entered for this one time."""
    number = request.path_params["package"]
    if place.team:
        raise EvidenceError(
            sentence("a key stays with its owner and is not sent to this desk"),
            remedy=sentence("countersign on your own computer: evidence-app review"),
        )
    decision = str(form.get("decision", AGREE))
    opened = place.review_of(number)
    key = open_key(place.settings.supervisor_key_path(), str(form.get("pin", "")) or None)
    supervisor = str(form.get("supervisor", "")).strip() or place.settings.supervisor
    if not supervisor:
        raise EvidenceError(
            sentence("a countersign needs a name"), remedy=sentence("enter the supervisor's name")
        )
    reason = str(form.get("reason", ""))[:4000]
    sign_review(opened, decision, reason, supervisor, key, place.register)
    return RedirectResponse(f"/package/{number}/review", 303)


def _to_package(form: FormData, number: int) -> Response:
    """Back to the list with this package beside it when it was decided there."""
    query = str(form.get("list", ""))
    safe = query and not set(query) & set("\r\n#\\")
    return RedirectResponse(f"/?{query}" if safe else f"/package/{number}", 303)


# --- the desk itself ------------------------------------------------------------------------


def settings(request: Request, place: DeskPlace) -> Response:
    return page(request, "settings.html", settings=place.settings)


def set_settings(request: Request, place: DeskPlace, form: FormData) -> Response:
    if place.team:
        return _refused(request)
    names = ("clerk", "supervisor", "supervisor_key", "key_list", "time_authority", "watched_folder")
    place.change(**{name: str(form.get(name, "")).strip()[:1000] for name in names})
    place.key_list()  # a list that cannot be believed is said at once
    return RedirectResponse("/settings", 303)


def set_language(request: Request, place: DeskPlace, form: FormData) -> Response:
    chosen = str(form.get("language", ""))
    answer = RedirectResponse("/", 303)
    if chosen in LANGUAGES:
        answer.set_cookie(
            "desk-language", chosen, 365 * 86400, httponly=True, samesite="strict",
            secure=request.app.state.secure,
        )  # fmt: skip
    return answer


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
                place.team.sign_in,
                str(form.get("name", ""))[:80].strip(),
                str(form.get("password", "")),
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
