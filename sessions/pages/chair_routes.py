"""What the chair page asks for: who may sit down, what is asked now; presses, answers and words."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ..chair import own_sound
from ..chair.given import Answered, Pressed, Said, WordSaid
from ..chair.sitting import Doing, Sitting
from ..chair.view import View
from ..errors import ListenError
from ..listening.browser_records import BrowserOutput
from . import doings
from .at_chair import AtChair
from .joining import Claim
from .replies import STATUS, given, guest, quick_reply
from .room import Room


@dataclass(frozen=True)
class Sit:
    """Who sits down; `instead`: in place of their own page that is lost."""

    plan: str
    listener: str
    instead: bool = False
    output: BrowserOutput | None = None  # of a page that plays by itself
    doing: Doing = "plan"
    about: tuple[str, ...] = ()


@dataclass(frozen=True)
class SaidAt:
    """What was said to the listener, and what their page shows since."""

    said: Said
    view: View


async def who(request: Request) -> Response:
    """Who may sit down."""
    guest(request, "listener")
    room: Room = request.app.state.room
    return quick_reply(await run_in_threadpool(room.offered))


async def now(request: Request) -> Response:
    """What is asked now."""
    own = guest(request, "listener")
    room: Room = request.app.state.room
    if own.claim is not None and (seat := room.seat_at(own.claim)) is not None:
        seat.seen = own.seen
    return quick_reply(room.at_chair(own))


async def words(request: Request) -> Response:
    """The words that are offered where one is to be logged."""
    own = guest(request, "listener")
    room: Room = request.app.state.room
    return quick_reply(await run_in_threadpool(room.words_offered, own))


async def sit(request: Request) -> Response:
    """Sit down; the chair is open when this is answered, or the line is shown."""
    own, wish = guest(request, "listener"), await given(request, Sit)
    room: Room = request.app.state.room
    claim = Claim(wish.plan, wish.listener, wish.doing, wish.about)
    output = wish.output if room.house.own_sound else None
    words = None if output is None else output.words
    seat = await run_in_threadpool(partial(room.sit, own, claim, words, instead=wish.instead))
    if seat is not None:
        await asyncio.wrap_future(seat.opened)
        if output is not None:
            await asyncio.wrap_future(seat.ask(lambda chair: own_sound.opened(chair, output)))
    at = room.at_chair(own)
    if at.asking == "away" and await run_in_threadpool(room.has_ended, claim):
        at = AtChair("end", claim.plan, claim.listener)
    return quick_reply(at)


async def press(request: Request) -> Response:
    """A press of the remote."""
    pressed = await given(request, Pressed)
    return await asked_of_chair(request, lambda chair: chair.press(pressed))


async def answer(request: Request) -> Response:
    """An answer; the same one again is answered the same, also by a chair that is being left just now."""
    answered = await given(request, Answered)
    own = guest(request, "listener")
    room: Room = request.app.state.room
    seat = None if own.claim is None else room.seat_at(own.claim)
    if seat is not None:
        try:
            return await asked_of_chair(request, lambda chair: chair.answer(answered))
        except ListenError:
            if not seat.over:
                raise
    said = await run_in_threadpool(room.said_to, own, answered)
    return quick_reply({"said": said}, STATUS[said.result])


async def word(request: Request) -> Response:
    """A word; the same one again is kept once."""
    said = await given(request, WordSaid)
    return await asked_of_chair(request, lambda chair: chair.word(said))


async def leave(request: Request) -> Response:
    """Leave chair or line; the token counts no longer."""
    own = guest(request, "listener")
    room: Room = request.app.state.room
    seat = room.stand_up(own)
    if seat is not None:
        await run_in_threadpool(seat.close)
    return quick_reply(AtChair("who"))


async def rise(request: Request) -> Response:
    """Leave what never counts, and stay in the room."""
    own = guest(request, "listener")
    room: Room = request.app.state.room
    seat = room.rise(own)
    if seat is not None:
        await run_in_threadpool(seat.close)
    return quick_reply(room.at_chair(own))


async def evening(request: Request) -> Response:
    """What free listening may be of."""
    guest(request, "listener")
    room: Room = request.app.state.room
    return quick_reply(await run_in_threadpool(doings.evening, room.house))


async def exercises(request: Request) -> Response:
    """What can be trained."""
    guest(request, "listener")
    room: Room = request.app.state.room
    return quick_reply(await run_in_threadpool(room.exercises))


async def asked_of_chair(request: Request, action: Callable[[Sitting], Said]) -> Response:
    """Have something done in the chair of whoever asks; what was said, and what their page shows since."""
    room: Room = request.app.state.room
    seat = room.seat_of(guest(request, "listener"))

    def in_chair(chair: Sitting) -> SaidAt:
        said = action(chair)
        return SaidAt(said, chair.view())

    found = await asyncio.wrap_future(seat.ask(in_chair))
    return quick_reply(found, STATUS[found.said.result])


ROUTES = [
    Route("/chair/who", who),
    Route("/chair/now", now),
    Route("/chair/words", words),
    Route("/chair/sit", sit, methods=["POST"]),
    Route("/chair/press", press, methods=["POST"]),
    Route("/chair/answer", answer, methods=["POST"]),
    Route("/chair/word", word, methods=["POST"]),
    Route("/chair/leave", leave, methods=["POST"]),
    Route("/chair/rise", rise, methods=["POST"]),
    Route("/chair/evening", evening),
    Route("/chair/exercises", exercises),
]
