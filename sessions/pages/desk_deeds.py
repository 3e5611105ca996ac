"""What the desk does: drafts, seals, long work begun and stopped. Every change is a POST, from the operator alone."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ..casebook.store import Casebook, open_casebook
from ..desk import builder, foresight, sealing
from ..desk.builder import Asked
from ..desk.deeds import plan_page
from ..desk.foresight import Foreseen
from ..desk.jobs import Check, Compare, MatchFiles, PrepareAt, Suggest, WriteReport
from ..desk.office import Office
from ..desk.sealing import Acceptance, Noted, Phrase, SealWish
from ..desk.works import Job, Work, shown_at
from ..errors import ListenError
from . import addresses
from .replies import Turned, given, guest, reply, whole
from .room import Room

T = TypeVar("T")
LISTENING = ("coming", "hear", "disturbed", "device", "busy")
NOT_THERE = "folders of this machine are named in a browser on it"
NOT_NOW = "somebody listens now, and long work could disturb the sound; begin it once they are done"


@dataclass(frozen=True)
class UnderWay:
    """The long work that is under way, or was last; None before there was any."""

    work: Work | None


def only_here(request: Request) -> None:
    """Nothing, if somebody asks from this machine: whoever names a folder of its must sit at it.

    Raises
    ------
    Turned
        If they do not.
    """
    if request.client is None or request.client.host != addresses.LOOPBACK:
        raise Turned(403, NOT_THERE)


def begins(kind: type[Job]) -> Callable[[Request], Awaitable[Response]]:
    """Begins long work of a kind, whose fields the page sends."""

    async def begun(request: Request) -> Response:
        guest(request, "desk")
        if kind is Compare:
            only_here(request)
        job = await given(request, kind)
        room: Room = request.app.state.room
        office: Office = request.app.state.office
        if room.is_listened(LISTENING):
            raise ListenError(NOT_NOW)
        return reply(UnderWay(office.works.start(job)))

    return begun


async def work(request: Request) -> Response:
    """How far the long work is, as far as the page that asks shows it."""
    guest(request, "desk")
    office: Office = request.app.state.office
    asked = request.query_params
    watched = whole(asked, "saw")
    return reply(UnderWay(shown_at(office.works.now(), asked.get("at", ""), watched)))


@dataclass(frozen=True)
class PutAway:
    """Ended work, by its number, that is to be shown no more."""

    number: int


async def away(request: Request) -> Response:
    """Put away work that has ended."""
    guest(request, "desk")
    ended = await given(request, PutAway)
    office: Office = request.app.state.office
    office.works.put_away(ended.number)
    return reply(UnderWay(office.works.now()))


async def stop(request: Request) -> Response:
    """Stop the long work."""
    guest(request, "desk")
    office: Office = request.app.state.office
    office.works.stop()
    return reply(UnderWay(office.works.now()))


@dataclass(frozen=True)
class Go:
    """The page that comes next."""

    go: str


def does(kind: type[T], action: Callable[[Casebook, Office, T], object]) -> Callable[[Request], Awaitable[Response]]:
    """Does something in the casebook with what the page sends; what it gives is what the page is told."""

    async def done(request: Request) -> Response:
        guest(request, "desk")
        wish = await given(request, kind)
        office: Office = request.app.state.office

        def in_casebook() -> object:
            with open_casebook(office.folder) as casebook:
                return action(casebook, office, wish)

        return reply(await run_in_threadpool(in_casebook))

    return done


def _foreseen(casebook: Casebook, office: Office, asked: Asked) -> Foreseen:
    return foresight.foreseen(casebook, asked)


def _drafted(casebook: Casebook, office: Office, asked: Asked) -> Go:
    return Go(plan_page(builder.draft(casebook, asked).name))


def _sealed(casebook: Casebook, office: Office, wish: SealWish) -> Go:
    return Go(plan_page(sealing.seal(casebook, office, wish).plan.name))


def _accepted(casebook: Casebook, office: Office, given: Acceptance) -> Go:
    return Go(plan_page(sealing.accept(casebook, given).name))


def _published(casebook: Casebook, office: Office, given: Noted) -> Go:
    sealing.note(casebook, given)
    return Go(plan_page(given.name))


def _phrase(casebook: Casebook, office: Office, given: Phrase) -> Go:
    sealing.give_phrase(casebook, given)
    return Go(plan_page(given.name))


ROUTES = [
    Route("/desk/plan/foresee", does(Asked, _foreseen), methods=["POST"]),
    Route("/desk/plan/draft", does(Asked, _drafted), methods=["POST"]),
    Route("/desk/plan/seal", does(SealWish, _sealed), methods=["POST"]),
    Route("/desk/plan/accept", does(Acceptance, _accepted), methods=["POST"]),
    Route("/desk/plan/published", does(Noted, _published), methods=["POST"]),
    Route("/desk/plan/phrase", does(Phrase, _phrase), methods=["POST"]),
    Route("/desk/work", work),
    Route("/desk/work/away", away, methods=["POST"]),
    Route("/desk/work/stop", stop, methods=["POST"]),
    Route("/desk/work/compare", begins(Compare), methods=["POST"]),
    Route("/desk/work/suggest", begins(Suggest), methods=["POST"]),
    Route("/desk/work/match", begins(MatchFiles), methods=["POST"]),
    Route("/desk/work/check", begins(Check), methods=["POST"]),
    Route("/desk/work/prepare", begins(PrepareAt), methods=["POST"]),
    Route("/desk/work/report", begins(WriteReport), methods=["POST"]),
]
