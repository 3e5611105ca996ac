"""What the assistant's page asks for: what to connect now, and that it is done. It tells the key: it has a code of its
own.
"""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ..listening.assistant_line import Order
from .replies import given, guest, reply, sentence
from .room import Room

GONE = "that swap is not asked for any more; look at what stands there now"


@dataclass(frozen=True)
class Swaps:
    """A session that runs, and what it asks of the assistant; None while it asks for nothing."""

    plan: str
    listener: str
    order: Order | None


@dataclass(frozen=True)
class Done:
    """A swap that is done."""

    plan: str
    listener: str
    number: int


async def now(request: Request) -> Response:
    """What is asked of the assistant now."""
    guest(request, "assistant")
    room: Room = request.app.state.room
    lines = room.house.assistants.lines()
    return reply([Swaps(plan, listener, line.order()) for (plan, listener), line in lines.items()])


async def done(request: Request) -> Response:
    """A swap is done."""
    guest(request, "assistant")
    which = await given(request, Done)
    room: Room = request.app.state.room
    line = room.house.assistants.lines().get((which.plan, which.listener))
    if line is None or not line.done(which.number):
        return sentence(GONE, 409)
    return await now(request)


ROUTES = [Route("/assist/now", now), Route("/assist/done", done, methods=["POST"])]
