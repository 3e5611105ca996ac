"""What every request and every response passes: who is asked, from where, how much, and what a browser may do with it.

A page of somebody else's can make a browser send requests here, also under a name of its own that leads to this
machine: the Host must be one of ours, and whatever changes something must come from a page of ours.
"""

from __future__ import annotations

from collections.abc import Collection

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 16 * 1024  # of a body: the longest answer, ratings of many words, has some thousands
READS = ("GET", "HEAD")
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), screen-wake-lock=(self)",
}
WHERE_TRUSTED = {"cross-origin-opener-policy": "same-origin"}  # elsewhere a browser leaves it out, and complains of it
SENT = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
SENT_WHERE_TRUSTED = [*SENT, *((name.encode(), value.encode()) for name, value in WHERE_TRUSTED.items())]
THIS_MACHINE = ("127.0.0.1", "localhost")


class Guard:
    """The application behind it, with strangers kept out.

    Parameters
    ----------
    hosts
        The names, each with its port, by which this machine is asked: ``192.168.1.20:8421``.
    scheme
        ``http`` or ``https``.
    """

    def __init__(self, app: ASGIApp, hosts: Collection[str], scheme: str) -> None:
        self._app = app
        self._hosts = {host.lower() for host in hosts}
        self._scheme = scheme

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web socket is served
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                ours = SENT_WHERE_TRUSTED if self._is_trusted(scope) else SENT
                message["headers"] = [*message["headers"], *ours]
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, guarded)
            return
        try:
            body = await _body(receive) if scope["method"] not in READS else b""
        except ConnectionError:  # half a request: nobody waits for a reply
            return
        if body is None:
            await PlainTextResponse("too much at once", 413)(scope, receive, guarded)
            return
        await self._app(scope, _replayed(body, receive), guarded)

    def _is_trusted(self, scope: Scope) -> bool:
        """Whether a browser takes this address for one that nobody on the way has changed."""
        return self._scheme == "https" or _host(scope).rpartition(":")[0] in THIS_MACHINE

    def _refused(self, scope: Scope) -> PlainTextResponse | None:
        headers = dict(scope["headers"])
        host = _host(scope)
        if host not in self._hosts:
            return PlainTextResponse("this machine is not asked by that name", 421)
        if scope["method"] not in (*READS, "POST"):
            return PlainTextResponse("not that way", 405)
        if scope["method"] == "POST":
            if headers.get(b"origin", b"").decode("latin-1").lower() != f"{self._scheme}://{host}":
                return PlainTextResponse("only pages from here may ask for that", 403)
            if headers.get(b"content-type", b"").partition(b";")[0].strip() != b"application/json":
                return PlainTextResponse("only JSON is read", 415)
        return None


def _host(scope: Scope) -> str:
    """By which name, with its port, this machine is asked; the last one where there are several."""
    found = [value.decode("latin-1") for name, value in scope["headers"] if name == b"host"]
    return found[-1].lower() if found else ""


async def _body(receive: Receive) -> bytes | None:
    """The whole body; None as soon as it is too long.

    Raises
    ------
    ConnectionError
        If it ends in the middle.
    """
    taken = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise ConnectionError("the connection is lost")
        part: bytes = message.get("body", b"")
        taken += part
        if len(taken) > MOST_BYTES:
            return None
        if not message.get("more_body", False):
            return taken


def _replayed(body: bytes, receive: Receive) -> Receive:
    given = False

    async def replay() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return replay
