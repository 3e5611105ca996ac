"""What a page asks for that plays by itself: a trial's files; on what it plays, what it read, what was heard."""

from __future__ import annotations

import asyncio

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ..chair import own_sound
from ..chair.own_sound import SoundsRead
from ..listening.browser_records import BrowserOutput, BrowserReport
from .chair_routes import asked_of_chair
from .replies import Turned, given, guest, quick_reply
from .room import Room

GONE = "these sounds belong to a trial that is over"


async def sounds(request: Request) -> Response:
    """How the sounds of the trial on offer are fetched and played."""
    room: Room = request.app.state.room
    seat = room.seat_of(guest(request, "listener"))
    return quick_reply(await asyncio.wrap_future(seat.ask(own_sound.sounds)))


async def file(request: Request) -> Response:
    """One of its files. All are of one size, and their names follow from a secret."""
    room: Room = request.app.state.room
    seat, name = room.seat_of(guest(request, "listener")), request.path_params["name"]
    body = await asyncio.wrap_future(seat.ask(lambda chair: own_sound.file(chair, name)))
    if body is None:
        raise Turned(404, GONE)
    return Response(body, media_type="application/octet-stream")


async def output(request: Request) -> Response:
    """On what the page plays."""
    found = await given(request, BrowserOutput)
    return await asked_of_chair(request, lambda chair: own_sound.opened(chair, found))


async def read(request: Request) -> Response:
    """What it read of the sounds as it plays them."""
    found = await given(request, SoundsRead)
    return await asked_of_chair(request, lambda chair: own_sound.read(chair, found))


async def told(request: Request) -> Response:
    """What was heard since; the same report again counts once."""
    report = await given(request, BrowserReport)
    return await asked_of_chair(request, lambda chair: own_sound.told(chair, report))


ROUTES = [
    Route("/chair/sounds", sounds),
    Route("/chair/sounds/{name}", file),
    Route("/chair/sound/output", output, methods=["POST"]),
    Route("/chair/sound/read", read, methods=["POST"]),
    Route("/chair/sound/told", told, methods=["POST"]),
]
