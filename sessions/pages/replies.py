"""Between records and the web: JSON in and out, errors as sentences, and who asks."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any, TypeVar

from starlette.datastructures import URL, QueryParams
from starlette.requests import Request
from starlette.responses import Response

from ..casebook import documents
from ..errors import CasebookError
from .joining import Guest, Role
from .room import Room

NO_WHOLE_NUMBER = re.compile(r"Expected `int[^$]*at `\$\.(\w+)`")  # by the name of the field
OUT_OF_RANGE = re.compile(r"(?:Expected `(?:int|float)` [<>]=|out of range).* - at `\$(?:\.\w+)*?\.(\w+)`")
STATUS = {"kept": 200, "again": 200, "held": 503, "later": 503, "late": 409, "refused": 422}
NOT_IN = "join first"
NOT_YOURS = "this is for the operator at the desk; it has a code of its own"

T = TypeVar("T")


class Turned(Exception):
    """A request that gets no more than a sentence, with its status."""

    def __init__(self, status: int, message: str) -> None:
        super().__init__(message)
        self.status = status


class NoWholeNumber(Turned):
    """A field that takes a whole number was sent something else."""

    def __init__(self, field: str, given: object) -> None:
        super().__init__(422, f"{field} takes a whole number, and {given} was given")
        self.field = field
        self.given = given


class OutOfRange(Turned):
    """A field that takes a number was sent one that it cannot mean; None where the number itself is not known."""

    def __init__(self, field: str, given: object = None) -> None:
        super().__init__(422, f"{field} is out of range; load the page again")
        self.field = field
        self.given = given


def reply(record: Any, status: int = 200) -> Response:
    """A record as JSON."""
    text = documents.text_of(documents.plain(record), sort_keys=False)
    return Response(text, status, media_type="application/json")


def quick_reply(record: Any, status: int = 200) -> Response:
    """A record that was made here as JSON: what pages ask for many times a second."""
    return Response(documents.told(record), status, media_type="application/json")


def sentence(message: str, status: int) -> Response:
    """A sentence for whoever asked."""
    return reply({"message": message}, status)


async def given(request: Request, kind: type[T]) -> T:
    """The record that a request holds.

    Raises
    ------
    Turned
        If it holds none, or a number in it is out of range.
    """
    try:
        found = documents.from_text((await request.body()).decode(), kind)
    except (CasebookError, UnicodeDecodeError) as error:
        beyond = OUT_OF_RANGE.search(str(error))
        if beyond is not None:
            raise OutOfRange(beyond[1], _sent((await request.body()).decode(), beyond[1])) from error
        whole_one = NO_WHOLE_NUMBER.search(str(error))
        if whole_one is not None:
            raise NoWholeNumber(whole_one[1], _sent((await request.body()).decode(), whole_one[1])) from error
        raise Turned(400, "the page sent something that is not known here; load it again") from error
    if (large := documents.beyond(found)) is not None:
        raise OutOfRange(*large)
    return found


def _sent(text: str, field: str) -> object:
    """What was sent in a field of a page's form; None where a record within it holds the field."""
    sent = documents.value_of(text)
    return sent.get(field) if isinstance(sent, dict) else None


def whole(asked: QueryParams, name: str) -> int:
    """A small whole number of an address; -1 where there is none."""
    text = asked.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else -1


def cookie(request: Request, role: Role) -> str:
    """The name of the cookie that holds a token; the port is part of it, since browsers keep cookies for all ports."""
    return f"earwitness_{role}_{_port(request.headers.get('host', ''))}"


@lru_cache(maxsize=64)  # this machine is asked by few names, each time anew
def _port(host: str) -> int:
    headers = [(b"host", host.encode("latin-1"))]
    return URL(scope={"type": "http", "scheme": "http", "path": "/", "headers": headers}).port or 0


def guest(request: Request, role: Role) -> Guest:
    """Who asks; that they were heard of is noted.

    Raises
    ------
    Turned
        If nobody of that role does; a listener who asks for the desk's is told that it is not theirs.
    """
    room: Room = request.app.state.room
    token = request.cookies.get(cookie(request, role))
    found = room.guests.of(token, role)
    if found is None:
        if role == "desk" and room.guests.of(request.cookies.get(cookie(request, "listener")), "listener"):
            raise Turned(403, NOT_YOURS)
        raise Turned(401, room.guests.why_ended(token) or NOT_IN)
    found.seen = room.house.monotonic()
    return found


def let_in(response: Response, request: Request, role: Role, token: str) -> None:
    """Give a browser its token: no script reads it, and no other site can make it be sent."""
    secure = request.url.scheme == "https"
    response.set_cookie(cookie(request, role), token, httponly=True, samesite="strict", secure=secure, path="/")
