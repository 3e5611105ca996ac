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
from ..desk import builder, closing, foresight, real_gear_match, sealing, second_secret
from ..desk.builder import Asked
from ..desk.closing import Closing
from ..desk.deeds import plan_page
from ..desk.foresight import Foreseen
from ..desk.jobs import Check, Compare, MatchFiles, MatchVolts, PrepareAt, Suggest, WriteReport
from ..desk.office import Office
from ..desk.real_gear_match import Read
from ..desk.sealing import Acceptance, Named, Noted, Phrase, SealWish
from ..desk.second_secret import Held
from ..desk.works import Job, Work, shown_at
from ..errors import ListenError
from . import addresses
from .replies import Turned, given, guest, reply, whole
from .room import Room

T = TypeVar("T")
LISTENING = ("coming", "hear", "disturbed", "device", "busy")
NOT_THERE = "folders of this machine are named in a browser on it"
SECRET_HERE = "a second secret is typed in a browser on this machine, or over HTTPS (serve --tls-cert, --tls-key)"
NOT_NOW = "somebody listens now, and long work could disturb the sound; begin it once they are done"


@dataclass(frozen=True)
class UnderWay:
    """The long work that is under way, or was last; None before there was any."""

    work: Work | None


def only_here(request: Request, why: str = NOT_THERE) -> None:
    """Nothing, if somebody asks from this machine: whoever names a folder of its must sit at it.

    Raises
    ------
    Turned
        If they do not.
    """
    if request.client is None or request.client.host != addresses.LOOPBACK:
        raise Turned(403, why)


def check_secret(request: Request, secret: str) -> None:
    """Nothing, if no second secret is sent, or on a way on which nobody reads it: from this machine, or by HTTPS.

    Raises
    ------
    Turned
        If it could be read.
    """
    if secret and request.url.scheme != "https":
        only_here(request, SECRET_HERE)


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


def does(
    kind: type[T], action: Callable[[Casebook, Office, T], object], secret: Callable[[T], str] = lambda wish: ""
) -> Callable[[Request], Awaitable[Response]]:
    """Does something in the casebook with what the page sends; what it gives is what the page is told.

    Parameters
    ----------
    secret
        What of it nobody may read on its way.
    """

    async def done(request: Request) -> Response:
        guest(request, "desk")
        wish = await given(request, kind)
        check_secret(request, secret(wish))
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


def _taken_away(casebook: Casebook, office: Office, given: Named) -> Go:
    sealing.take_away(casebook, given)
    return Go("/desk")


def _published(casebook: Casebook, office: Office, given: Noted) -> Go:
    sealing.note(casebook, given)
    return Go(plan_page(given.name))


def _phrase(casebook: Casebook, office: Office, given: Phrase) -> Go:
    sealing.give_phrase(casebook, given)
    return Go(plan_page(given.name))


@dataclass(frozen=True)
class Told:
    """A sentence for the page that asked."""

    said: str


def _trims(casebook: Casebook, office: Office, read: Read) -> Told:
    return Told(real_gear_match.trims(casebook, read))


async def close(request: Request) -> Response:
    """Close a plan for good, or give it up."""
    guest(request, "desk")
    wish = await given(request, Closing)
    check_secret(request, wish.second)
    room: Room = request.app.state.room
    office: Office = request.app.state.office

    def closed() -> None:
        with open_casebook(office.folder) as casebook:
            closing.close(casebook, wish, room.seated_in(wish.name))

    await run_in_threadpool(closed)
    return reply(Go(plan_page(wish.name)))


def _second(casebook: Casebook, office: Office, given: Held) -> Go:
    second_secret.take(casebook, office, given)
    return Go(plan_page(given.name))


ROUTES = [
    Route("/desk/plan/foresee", does(Asked, _foreseen), methods=["POST"]),
    Route("/desk/plan/draft", does(Asked, _drafted), methods=["POST"]),
    Route("/desk/plan/seal", does(SealWish, _sealed, lambda wish: wish.second), methods=["POST"]),
    Route("/desk/plan/second", does(Held, _second, lambda given: given.second), methods=["POST"]),
    Route("/desk/plan/close", close, methods=["POST"]),
    Route("/desk/match/trims", does(Read, _trims), methods=["POST"]),
    Route("/desk/work/volts", begins(MatchVolts), methods=["POST"]),
    Route("/desk/plan/away", does(Named, _taken_away), methods=["POST"]),
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
