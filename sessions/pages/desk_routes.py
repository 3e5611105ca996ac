"""What the desk asks for often: who is connected and how far, how their sessions go, the code; to free a chair."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ..casebook.store import open_casebook
from ..desk import evening
from ..desk.evening import Evening
from ..desk.office import Office
from ..report import qr_codes
from .at_desk import AtDesk
from .joining import Claim
from .replies import given, guest, reply
from .room import Room


@dataclass(frozen=True)
class Desk:
    """What the desk page shows; never a key, never a score."""

    code: str
    address: str
    listeners: tuple[AtDesk, ...]
    evenings: tuple[Evening, ...]


@dataclass(frozen=True)
class Freed:
    """A chair that is to be freed."""

    plan: str
    listener: str


async def now(request: Request) -> Response:
    """What the desk shows now."""
    guest(request, "desk")
    room: Room = request.app.state.room
    listeners = await run_in_threadpool(room.at_desk)
    evenings = await run_in_threadpool(_evenings, request.app.state.office)
    return reply(Desk(room.guests.code, request.app.state.address, tuple(listeners), evenings))


def _evenings(office: Office) -> tuple[Evening, ...]:
    with open_casebook(office.folder) as casebook:
        return tuple(evening.gather(casebook))


async def code_picture(request: Request) -> Response:
    """The code for a camera: the address with the joining code, which never reaches a server's log."""
    guest(request, "desk")
    room: Room = request.app.state.room
    text = joining_address(request.app.state.address, room.guests.code)
    return Response(qr_codes.svg_file(text), media_type="image/svg+xml")


async def free(request: Request) -> Response:
    """Free a listener's chair."""
    guest(request, "desk")
    wish = await given(request, Freed)
    room: Room = request.app.state.room
    seat = room.free(Claim(wish.plan, wish.listener))
    if seat is not None:
        await run_in_threadpool(seat.close)
    return await now(request)


def joining_address(address: str, code: str) -> str:
    """The address that joins by itself."""
    return f"{address}/#{code}"


ROUTES = [
    Route("/desk/now", now),
    Route("/desk/code.svg", code_picture),
    Route("/desk/free", free, methods=["POST"]),
]
