"""What the page changes: packages taken in, decisions, countersigns, settings."""

import contextlib
import shutil
from pathlib import Path
from urllib.parse import unquote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from evidence_app.desk.countersign import AGREE
from evidence_app.desk.review import sign_review
from evidence_app.deskpage.accounts import CLERK
from evidence_app.deskpage.guard import same
from evidence_app.deskpage.looking import detail_of
from evidence_app.deskpage.place import DeskPlace
from evidence_app.deskpage.receiving import NO_ROOM, new_folder
from evidence_app.deskpage.shown.package import compare_words
from evidence_app.deskpage.templating import may, page, refused
from evidence_app.errors import EvidenceError
from evidence_app.language import LANGUAGES, say
from evidence_app.package.keys.signing_key import open_key
from evidence_app.record.clock import SystemClock
from evidence_app.sentence import sentences_beside

_WORDS = sentences_beside(__file__)

_LEAVE_FREE = 200 * 10**6


async def receive(request: Request) -> Response:
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
    by = by_whom(request, place)
    dropped = [place.dropped / str(name) for name in form.getlist("dropped")]
    if any(".." in path.parts or not path.is_relative_to(place.dropped) for path in dropped):
        raise KeyError("dropped")
    if dropped:
        place.receiving.begin(dropped, by, dropped=True)
    elif path := str(form.get("path", "")).strip():
        if place.team:
            return refused(request)
        place.receiving.begin([Path(path).expanduser()], by)
    return RedirectResponse("/", 303)


def cancel(request: Request, place: DeskPlace, form: FormData) -> Response:
    place.receiving.cancel()
    return RedirectResponse("/", 303)


def decide(request: Request, place: DeskPlace, form: FormData) -> Response:
    number = request.path_params["package"]
    reason = str(form.get("reason", ""))[:4000]
    at = SystemClock().now().wall
    place.register.decide(number, str(form.get("decision", "")), reason, by_whom(request, place), at)
    return _to_package(form, number)


def compare(request: Request, place: DeskPlace, form: FormData) -> Response:
    number = request.path_params["package"]
    shown = detail_of(place, number)
    answer = compare_words(shown["entry"], str(form.get("typed", ""))[:200])
    return page(request, "package.html", **shown, answer=answer)


def check_again(request: Request, place: DeskPlace, form: FormData) -> Response:
    number = request.path_params["package"]
    place.receiving.begin([place.path_of(number)], by_whom(request, place), again=True)
    return RedirectResponse(f"/?waiting=all&package={number}", 303)


def countersign(request: Request, place: DeskPlace, form: FormData) -> Response:
    """On this computer only, with the key that is here and the PIN entered for this one time."""
    number = request.path_params["package"]
    if place.team:
        raise EvidenceError.worded(_WORDS["key-stays"])
    decision = str(form.get("decision", AGREE))
    opened = place.review_of(number)
    key = open_key(place.settings.supervisor_key_path(), str(form.get("pin", "")) or None)
    supervisor = str(form.get("supervisor", "")).strip() or place.settings.supervisor
    if not supervisor:
        raise EvidenceError.worded(_WORDS["no-name"])
    reason = str(form.get("reason", ""))[:4000]
    wanted = [str(step) for step in form.getlist("want")]
    sign_review(opened, decision, reason, supervisor, key, place.register, wanted, place.key_list())
    return RedirectResponse(f"/package/{number}/review", 303)


def _to_package(form: FormData, number: int) -> Response:
    """Back to the list with this package beside it when it was decided there."""
    query = str(form.get("list", ""))
    safe = query and not set(query) & set("\r\n#\\")
    return RedirectResponse(f"/?{query}" if safe else f"/package/{number}", 303)


def set_settings(request: Request, place: DeskPlace, form: FormData) -> Response:
    if place.team:
        return refused(request)
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


def by_whom(request: Request, place: DeskPlace) -> str:
    """Whose name a change gets in the register's history."""
    return request.scope["session"].name if place.team else place.clerk
