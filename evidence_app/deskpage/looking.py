"""What the page shows: each asks the desk room and fills a template, and changes nothing."""

import hashlib

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from evidence_app.desk import export
from evidence_app.desk.review import asked_in
from evidence_app.desk.search import find
from evidence_app.desk.worklist import ALL, WAITING, WorklistPage
from evidence_app.deskpage.place import DeskPlace, Opened
from evidence_app.deskpage.shown import rows as rows_shown
from evidence_app.deskpage.shown.package import package_shown, shown_of
from evidence_app.deskpage.shown.photos import steps_shown
from evidence_app.deskpage.shown.rows import LENGTH, asked_of, row_shown
from evidence_app.deskpage.shown.stopped import signed_words, stopped_of
from evidence_app.deskpage.shown.taken import arrival_of
from evidence_app.deskpage.templating import download, page
from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.package.report.words import bare
from evidence_app.photo.preview import make_preview

_KINDS = {b"\xff\xd8\xff": "image/jpeg", b"\x89PNG": "image/png", b"fLaC": "audio/flac"}


def worklist(request: Request, place: DeskPlace) -> Response:
    asked = asked_of(request.query_params)
    found, opened, trouble = None, None, ""
    try:
        found = place.worklist.page(asked.wanted, asked.sort, asked.descending, asked.start, LENGTH)
        if not request.query_params.get("waiting") and asked.address(sort="", down="", package="") == "":
            # It opens on what waits: the first class that has something in it.
            first = next((name for name in WAITING if found.counts[name]), ALL)
            return RedirectResponse(f"/?{asked.address(waiting=first)}", 303)
        if asked.package is not None:
            opened = detail_of(place, asked.package)
    except EvidenceError as error:
        trouble = error.sentence(say=say)
    return page(
        request,
        "worklist.html",
        409 if trouble else 200,
        trouble=trouble,
        **_listed(asked, found),
        **batches(place),
        **(opened or {"detail": None}),
    )


def _listed(asked: rows_shown.ListAsked, found: WorklistPage | None) -> dict:
    """What the templates of the list take; ``found`` None when it cannot be read."""
    shown = [row_shown(row) for row in found.rows] if found else []
    return {"asked": asked, "found": found, "rows": shown, "shown": rows_shown}


def rows(request: Request, place: DeskPlace) -> Response:
    """The rows of one stretch of the list, and how many there are."""
    asked = asked_of(request.query_params)
    found = place.worklist.page(asked.wanted, asked.sort, asked.descending, asked.start, LENGTH)
    answer = page(request, "rows.html", **_listed(asked, found))
    answer.headers["X-Total"], answer.headers["X-Start"] = str(found.total), str(found.start)
    return answer


def package(request: Request, place: DeskPlace) -> Response:
    """One package: beside the list as a fragment, or on a page of its own."""
    shown = detail_of(place, request.path_params["package"])
    template = "detail.html" if "beside" in request.query_params else "package.html"
    return page(request, template, **shown, answer=None)


def detail_of(place: DeskPlace, number: int) -> dict:
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
        signed=[signed_words(found) for found in opened.countersigns],
        asked=[folder for folder in map(asked_in, opened.countersigns) if folder.is_dir()],
        summary=opened.summary,
        bare=bare,
        failed=opened.result.failed,
        steps=steps_shown(opened.contents),
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
    made = print_report(
        path, key_list=place.key_list(), accept_practice=place.practice, register=place.register
    )
    return download(made, f"report-{path.stem}.pdf")


def original(request: Request, place: DeskPlace) -> Response:
    from starlette.responses import FileResponse

    path = place.path_of(request.path_params["package"])
    if not path.is_file():
        raise KeyError("package")
    return FileResponse(path, media_type="application/zip", filename=path.name)


def exported(request: Request, place: DeskPlace) -> Response:
    found = find(place.register, asked_of(request.query_params).wanted)
    kind = request.path_params["kind"]
    if kind == "json":
        return download(export.as_json(place.register, found), "packages.json")
    made = {"csv": export.as_csv, "parquet": export.packages_as_parquet}[kind](found)
    return download(made, f"packages.{kind}")


def receiving(request: Request, place: DeskPlace) -> Response:
    return page(request, "batches.html", **batches(place))


def batches(place: DeskPlace) -> dict:
    """What was taken in lately, the newest first, for the templates."""
    return {"batches": place.receiving.batches[::-1], "arrival_of": arrival_of}


def settings(request: Request, place: DeskPlace) -> Response:
    return page(request, "settings.html", settings=place.settings)
