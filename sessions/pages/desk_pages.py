"""The desk's pages: each gathers what it shows, for the operator alone, and draws it. Nothing is changed by asking."""

from __future__ import annotations

import getpass
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from audio.errors import AudioError
from stats.errors import StatsError

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook, open_casebook
from ..desk import (
    builder,
    catalogue_shown,
    crosscheck_shown,
    doses,
    ended,
    evidence_shown,
    field_labels,
    figures_shown,
    listeners_shown,
    overlaid,
    real_gear_match,
    sealing,
    standing,
    waveform,
    words_said,
)
from ..desk.office import Office
from ..errors import SessionsError
from ..report import qr_codes
from .replies import Turned, guest, whole
from .room import Room

Gather = Callable[[Office, QueryParams], Any]

PLACES = {
    "/desk": "Now",
    "/desk/compare": "Compare",
    "/desk/setups": "Setups",
    "/desk/passages": "Passages",
    "/desk/evidence": "Evidence",
    "/desk/plan/new": "Plan a test",
    "/desk/results": "Results",
    "/desk/words": "Words",
    "/desk/crosscheck": "Words and curves",
    "/desk/curves": "Curves",
    "/desk/listeners": "Listeners",
    "/desk/dose": "Noise dose",
}
"""The pages that every page leads to, in the order in which an evening is made."""


def page(template: str, gather: Gather) -> Callable[[Request], Awaitable[Response]]:
    """A page of the desk; for anybody else a door with a field for its code."""

    async def shown(request: Request) -> Response:
        try:
            guest(request, "desk")
        except Turned as turned:
            return drawn(request, "desk_door.html", {"told": str(turned)}, turned.status)
        office: Office = request.app.state.office
        try:
            found = await run_in_threadpool(gather, office, request.query_params)
        except (SessionsError, AudioError, StatsError) as error:
            return drawn(request, "desk_trouble.html", {"told": field_labels.spoken(str(error))}, 422)
        return drawn(request, template, {"shown": found})

    return shown


def drawn(request: Request, template: str, values: Mapping[str, Any], status: int = 200) -> Response:
    """A template of the desk, filled."""
    room: Room = request.app.state.room
    text = request.app.state.drawn.get_template(template).render(
        places=PLACES, labels=field_labels.LABELS, here=request.url.path, chair=f"/#{room.guests.code}", **values
    )
    return HTMLResponse(text, status)


def opened(found: Callable[[Casebook, Office, QueryParams], Any]) -> Gather:
    """What a page shows that asks the casebook, whatever else it needs."""

    def gather(office: Office, asked: QueryParams) -> Any:
        with open_casebook(office.folder) as casebook:
            return found(casebook, office, asked)

    return gather


def of_casebook(found: Callable[[Casebook], Any]) -> Gather:
    """What a page shows that asks the casebook alone."""
    return opened(lambda casebook, office, asked: found(casebook))


def of_office(found: Callable[[Casebook, Office], Any]) -> Gather:
    """What a page shows that asks the casebook, and names commands."""
    return opened(lambda casebook, office, asked: found(casebook, office))


def picture(drawn_of: Callable[[Casebook, QueryParams], str | bytes]) -> Callable[[Request], Awaitable[Response]]:
    """A picture of the casebook's."""

    async def shown(request: Request) -> Response:
        guest(request, "desk")
        office: Office = request.app.state.office
        made = await run_in_threadpool(
            opened(lambda casebook, office, asked: drawn_of(casebook, asked)), office, request.query_params
        )
        return Response(made, media_type="image/svg+xml")

    return shown


@dataclass(frozen=True)
class Typed:
    """What the form for two folders holds before anything is typed: who listens, and how a path looks here."""

    listener: str
    example: str


def _typed(office: Office, asked: QueryParams) -> Typed:
    with open_casebook(office.folder) as casebook:
        known = [one.name for one in catalogue.everything(casebook, Listener)]
    return Typed(known[0] if known else getpass.getuser(), str(Path.home() / "recordings" / "first setup"))


def _plan(casebook: Casebook, office: Office, asked: QueryParams) -> sealing.ShownPlan:
    return sealing.shown(casebook, office, asked.get("name", ""))


async def seal_picture(request: Request) -> Response:
    """A plan's seal as a code for a camera."""
    guest(request, "desk")
    office: Office = request.app.state.office
    code = await run_in_threadpool(
        opened(lambda casebook, office, asked: sealing.seal_code(casebook, asked.get("name", ""))),
        office,
        request.query_params,
    )
    if not code:
        raise Turned(404, "that plan has no seal")
    return Response(qr_codes.svg_file(code), media_type="image/svg+xml")


async def report(request: Request) -> Response:
    """The report as a file to be kept: in these pages its own looks would be kept from it."""
    guest(request, "desk")
    office: Office = request.app.state.office
    text = await run_in_threadpool(of_casebook(ended.report_text), office, request.query_params)
    return HTMLResponse(text, headers={"content-disposition": 'attachment; filename="report.html"'})


def _two(asked: QueryParams) -> tuple[str, str]:
    return asked.get("first", ""), asked.get("second", "")


def _of_two(found: Callable[[Casebook, str, str], Any]) -> Gather:
    """What a page shows of two setups, which its address names."""
    return opened(lambda casebook, office, asked: found(casebook, *_two(asked)))


ROUTES = [
    Route("/desk", page("desk_now.html", of_office(lambda book, office: standing.gather(book, office.hint)))),
    Route("/desk/compare", page("desk_compare.html", _typed)),
    Route("/desk/plan", page("desk_plan.html", opened(_plan))),
    Route("/desk/plan/new", page("desk_plan_new.html", of_casebook(builder.gather))),
    Route("/desk/plan/seal.svg", seal_picture),
    Route("/desk/setups", page("desk_setups.html", of_casebook(catalogue_shown.setups))),
    Route("/desk/passages", page("desk_passages.html", of_casebook(catalogue_shown.passages))),
    Route("/desk/passages/wave.svg", picture(lambda book, asked: waveform.picture(book, asked.get("name", "")))),
    Route("/desk/evidence", page("desk_evidence.html", of_casebook(evidence_shown.gather))),
    Route("/desk/curves", page("desk_curves.html", of_casebook(figures_shown.gather))),
    Route(
        "/desk/curves/figure.svg",
        picture(
            lambda book, asked: figures_shown.picture(
                book, asked.get("setup", ""), asked.get("what", ""), wide="wide" in asked
            )
        ),
    ),
    Route("/desk/curves/together", page("desk_overlaid.html", _of_two(overlaid.gather))),
    Route(
        "/desk/curves/together.svg",
        picture(lambda book, asked: overlaid.picture(book, *_two(asked), asked.get("what", ""), wide="wide" in asked)),
    ),
    Route("/desk/crosscheck", page("desk_crosscheck.html", _of_two(crosscheck_shown.gather))),
    Route(
        "/desk/crosscheck/picture.svg",
        picture(lambda book, asked: crosscheck_shown.picture(book, *_two(asked), wide="wide" in asked)),
    ),
    Route("/desk/match", page("desk_match.html", of_office(real_gear_match.gather))),
    Route("/desk/dose", page("desk_dose.html", of_office(doses.gather))),
    Route("/desk/listeners", page("desk_listeners.html", of_casebook(listeners_shown.gather))),
    Route("/desk/words", page("desk_words.html", of_casebook(words_said.gather))),
    Route("/desk/results", page("desk_results.html", of_casebook(ended.gather))),
    Route(
        "/desk/results/picture.svg",
        picture(lambda book, asked: ended.picture(book, asked.get("name", ""), whole(asked, "number"))),
    ),
    Route("/desk/results/report.html", report),
]
