"""The application: pages, what they ask for, and who may. It gets all it works with; nothing here decides anything."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Collection
from dataclasses import dataclass

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from audio.errors import AudioError
from stats.errors import StatsError

from ..chair import for_listeners
from ..desk import field_labels
from ..desk.office import Office
from ..desk.works import OtherWork, Works
from ..errors import CasebookBusy, CasebookFull, SessionsError
from ..report import templates
from . import assist_routes, chair_routes, desk_deeds, desk_pages, desk_routes, sound_routes
from .direct import Direct, Refusal
from .guard import Guard
from .joining import Refused, Role
from .replies import NoWholeNumber, OutOfRange, Turned, given, let_in, reply, sentence
from .room import Room

BUSY = "the casebook is in use by another program; nothing is lost"
FULL = "the host's disk is full; your answer is kept on this page until there is space"


@dataclass(frozen=True)
class Join:
    """The code of whoever comes in."""

    code: str


def create_app(
    room: Room, hosts: Collection[str], address: str, *, scheme: str = "http", office: Office | None = None
) -> Starlette:
    """The pages of a room.

    Parameters
    ----------
    hosts
        The names, each with its port, by which this machine may be asked.
    address
        Where listeners find the page, for the code that a camera reads.
    office
        The desk; without one, that of the room's casebook.
    """
    drawn = templates.environment("sessions.pages", "templates")

    def page(name: str) -> Callable[[Request], Awaitable[Response]]:
        # nobody's page differs from anybody else's
        text = drawn.get_template(name).render(own_sound=room.house.own_sound)

        async def shown(request: Request) -> Response:
            return HTMLResponse(text)

        return shown

    refusals: dict[type[Exception], Refusal] = {
        Turned: _turned,
        Refused: _refused,
        CasebookBusy: _busy,
        OtherWork: _other_work,
        SessionsError: _told,
        AudioError: _told,
        StatsError: _told,
    }
    asked_often = [*chair_routes.ROUTES, *sound_routes.ROUTES]
    app = Starlette(
        routes=[
            Route("/", page("join.html")),
            Route("/chair", page("chair.html")),
            Route("/join", _join("listener"), methods=["POST"]),
            Route("/desk/join", _join("desk"), methods=["POST"]),
            Route("/assist", page("assist.html")),
            Route("/assist/join", _join("assistant"), methods=["POST"]),
            *asked_often,
            *desk_routes.ROUTES,
            *desk_pages.ROUTES,
            *desk_deeds.ROUTES,
            *assist_routes.ROUTES,
            Mount("/sound", StaticFiles(packages=[("sessions.listening", "browser")])),
            Mount("/static", StaticFiles(packages=[("sessions.pages", "static")])),
        ],
        middleware=[
            Middleware(Guard, hosts=hosts, scheme=scheme),
            Middleware(Direct, routes=asked_often, refusals=refusals),
        ],
        exception_handlers={kind: refusals[kind] for kind in refusals},
    )
    app.state.room = room
    app.state.address = address
    app.state.office = office or Office(room.house.folder, Works(room.house.folder))
    app.state.drawn = drawn
    return app


def _join(role: Role) -> Callable[[Request], Awaitable[Response]]:
    async def join(request: Request) -> Response:
        room: Room = request.app.state.room
        code = (await given(request, Join)).code
        address = request.client.host if request.client else ""
        token = room.join(role, code, address)
        response = reply({"role": role})
        let_in(response, request, role, token)
        return response

    return join


async def _turned(request: Request, error: Exception) -> Response:
    assert isinstance(error, Turned)
    if isinstance(error, NoWholeNumber):
        return sentence(field_labels.not_whole(error.field, error.given), error.status)
    if isinstance(error, OutOfRange) and (told := field_labels.out_of_range(error.field, error.given)):
        return sentence(told, error.status)
    return sentence(str(error), error.status)


async def _refused(request: Request, error: Exception) -> Response:
    return sentence(str(error), 403)


async def _busy(request: Request, error: Exception) -> Response:
    return sentence(FULL if isinstance(error, CasebookFull) else BUSY, 503)


async def _other_work(request: Request, error: Exception) -> Response:
    """It passes, and the page takes it back then."""
    return sentence(str(error), 409)


async def _told(request: Request, error: Exception) -> Response:
    """What the command line would say in one line; the desk says it by the names of its fields.

    Anybody else's page tells nothing of this machine; where that leaves something out, its terminal tells the whole.
    """
    if request.url.path.startswith("/desk"):
        return sentence(field_labels.spoken(str(error)), 422)
    said = for_listeners.told(error)
    if said != str(error):
        room: Room = request.app.state.room
        room.tell(str(error))
    return sentence(said, 422)
