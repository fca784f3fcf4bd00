"""Where and why repairs stop, and how the work goes: charts, tables, and both as files."""

import io
from collections.abc import Callable, Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from evidence_app.desk.stopped.counts import GROUPINGS, NO_JUDGEMENT, Stops, as_csv, count_stops
from evidence_app.desk.work import figures
from evidence_app.deskpage.place import DeskPlace
from evidence_app.deskpage.shown import stops
from evidence_app.deskpage.shown.rows import asked_of
from evidence_app.deskpage.templating import download, page
from evidence_app.language import say

_ALONE = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox"}


def stops_page(request: Request, place: DeskPlace) -> Response:
    """The page, or its table (``as=csv``) or picture (``as=svg``). Names stand as numbers until
    they are asked for. Raises RegisterError."""
    kind = request.query_params.get("by", "week")
    what = request.query_params.get("of", "").strip()[:80]
    by = f"{kind}:{what}" if kind.endswith("-batch") and what else kind
    named = request.query_params.get("names") == "1"
    counted = None
    if place.register.path.exists():
        counted = count_stops(place.register, by, hide_names=not named)
    if (file := _as_file(request, "stops", counted, {"csv": as_csv})) is not None:
        return file
    return page(
        request,
        "stops.html",
        counted=counted,
        shown=stops,
        no_judgement=say(NO_JUDGEMENT),
        groupings=GROUPINGS,
        kind=kind,
        what=what,
        named=named,
    )


def work_page(request: Request, place: DeskPlace) -> Response:
    """The page, all its observations (``as=csv`` or ``parquet``) or a picture: of the times (``as=svg``), of the
    scale cards (``as=bars``).
    The jobs are those that the address names, as in the list of packages. Raises RegisterError."""
    named, asked = request.query_params.get("names") == "1", asked_of(request.query_params)
    work = figures.Work(place.register, asked.wanted, not named) if place.register.path.exists() else None
    tables = {"csv": figures.as_csv, "parquet": figures.observations_as_parquet}
    if (file := _as_file(request, "work", work, tables)) is not None:
        return file
    return page(request, "work.html", work=work, named=named, wanted=asked.wanted, figures=figures)


def _as_file(
    request: Request, name: str, counted: Any, tables: Mapping[str, Callable[[Any], bytes]]
) -> Response | None:
    """One of the tables or pictures (``as=svg``, ``as=bars``) where the address asks for it."""
    kind = request.query_params.get("as", "")
    if counted is not None and kind in tables:
        return download(tables[kind](counted), f"{name}.{kind}")
    if counted is not None and kind in ("svg", "bars"):
        return Response(_picture(counted, kind), media_type="image/svg+xml", headers=_ALONE)
    return None


def _picture(counted: Stops | figures.Work, kind: str) -> bytes:
    # The drawing library takes longer to load than all else here.
    from evidence_app.desk.stopped.picture import save
    from evidence_app.desk.work.picture import save_bars, save_times

    file = io.BytesIO()
    if isinstance(counted, Stops):
        save(counted, file, "svg")
    else:
        (save_bars if kind == "bars" else save_times)(counted, file, "svg")
    return file.getvalue()
