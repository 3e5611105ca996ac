"""The pages on a port of this machine, until they are stopped. The only user of uvicorn."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.types import ASGIApp

from ..errors import ListenError
from .seldom import Seldom

if TYPE_CHECKING:
    import uvicorn

USUAL_PORT = 8421
BACKLOG = 128
PATIENCE_S = 10.0  # within which a request is there, head and body; the longest has 16 KB
FILES_WANTED = 4096  # that may be open at once
FILES_KEPT = 512  # of them for casebooks, devices, and connections that were accepted and not looked at yet
MOST_CONNECTIONS = 1024  # 100 pages, and some connections each
NO_MORE = frozenset((errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM))


def listening(address: str, port: int) -> socket.socket:
    """A socket that listens on a port; 0: on any that is free.

    Raises
    ------
    ListenError
        If that port is taken, or not this machine's to take.
    """
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform == "win32":  # there another program could otherwise take the same port and our guests with it
        made.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
    else:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
        made.listen(BACKLOG)
    except OSError as error:
        made.close()
        raise ListenError(f"cannot serve on port {port}: {error.strerror}; name another one with --port") from error
    return made


def serve(
    app: ASGIApp,
    door: socket.socket,
    certificate: Path | None = None,
    key: Path | None = None,
    tell: Callable[[str], None] = lambda sentence: None,
) -> None:
    """Serve until Ctrl-C; it says nothing of who asks what. `tell` tells the host that no more pages can be let in.

    Raises
    ------
    ListenError
        If certificate and key do not fit.
    """
    with contextlib.suppress(KeyboardInterrupt):
        _server(app, certificate, key, tell).run(sockets=[door])


@contextlib.contextmanager
def beside(app: ASGIApp, door: socket.socket) -> Iterator[None]:
    """Serve in a thread, beside what is done meanwhile."""
    running = _server(app)
    thread = threading.Thread(target=lambda: running.run(sockets=[door]), name="pages", daemon=True)
    thread.start()
    try:
        yield
    finally:
        running.should_exit = True
        thread.join()


class _OneWrite:
    """A connection's transport on which head and body of a reply leave at once.

    Each write lets other threads take the interpreter, and the replies to all others wait until it is given back.
    """

    def __init__(self, transport: asyncio.Transport) -> None:
        self._transport = transport
        self._unsent: list[bytes] = []

    def __getattr__(self, name: str) -> Any:
        return getattr(self._transport, name)

    def write(self, data: bytes) -> None:
        if not self._unsent:
            asyncio.get_running_loop().call_soon(self._send)
        self._unsent.append(data)

    def close(self) -> None:
        self._send()
        self._transport.close()

    def _send(self) -> None:
        data, self._unsent = b"".join(self._unsent), []
        if data and not self._transport.is_closing():
            self._transport.write(data)


def most_connections() -> int:
    """How many connections may be open at once, so that files are left for what is kept of an answer."""
    if sys.platform == "win32":
        return MOST_CONNECTIONS
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = FILES_WANTED if hard == resource.RLIM_INFINITY else min(FILES_WANTED, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
            soft = wanted
    most = MOST_CONNECTIONS if soft == resource.RLIM_INFINITY else soft - FILES_KEPT
    return min(max(most, BACKLOG), MOST_CONNECTIONS)


def _protocol(most: int) -> type[asyncio.Protocol]:
    from uvicorn.protocols.http.h11_impl import H11Protocol

    class Protocol(H11Protocol):
        """A connection that is closed if a request does not come whole in time; where there are too many, sooner."""

        _waits: asyncio.TimerHandle | None = None

        def connection_made(self, transport: asyncio.BaseTransport) -> None:
            if len(self.connections) >= most and not self._make_place():
                transport.abort()  # type: ignore[attr-defined]
                return
            super().connection_made(_OneWrite(transport))  # type: ignore[arg-type]
            self._await_request()

        def connection_lost(self, exc: Exception | None) -> None:
            self._await_no_more()
            if self.transport is not None:
                super().connection_lost(exc)

        def handle_events(self) -> None:
            super().handle_events()
            if self._unfinished():
                self._await_request()
            else:
                self._await_no_more()

        def shutdown(self) -> None:
            if self._waits is None:
                super().shutdown()
            else:  # of half a request nothing is done
                self.transport.close()

        def _unfinished(self) -> bool:
            if self.cycle is not None and self.cycle.more_body:
                return True
            return bool((self.cycle is None or self.cycle.response_complete) and self.conn.trailing_data[0])

        def _await_request(self) -> None:
            if self._waits is None:
                self._waits = self.loop.call_later(PATIENCE_S, self._give_up)

        def _await_no_more(self) -> None:
            if self._waits is not None:
                self._waits.cancel()
                self._waits = None

        def _give_up(self) -> None:
            self.transport.abort()

        def _make_place(self) -> bool:
            """Close the connection whose request is awaited for the longest; whether there was one."""
            waits = [(one._waits.when(), one) for one in self.connections if isinstance(one, Protocol) and one._waits]
            if not waits:
                return False
            oldest = min(waits, key=lambda pair: pair[0])[1]
            self.connections.discard(oldest)
            oldest._give_up()
            return True

    return Protocol


class _Terminal:
    """What goes wrong outside of any request, for the operator; that no file is left is said once a minute."""

    def __init__(self, tell: Callable[[str], None]) -> None:
        self._tell = Seldom(tell)

    def __call__(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        error = context.get("exception")
        if not isinstance(error, OSError) or error.errno not in NO_MORE:
            loop.default_exception_handler(context)
        else:
            self._tell(f"No more pages can be let in for now ({error.strerror}); those that are in go on.")


def _server(
    app: ASGIApp,
    certificate: Path | None = None,
    key: Path | None = None,
    tell: Callable[[str], None] = lambda sentence: None,
) -> uvicorn.Server:
    import ssl

    import uvicorn

    config = uvicorn.Config(
        app,
        http=_protocol(most_connections()),
        backlog=BACKLOG,
        log_config=None,
        log_level="error",  # nobody fills the operator's terminal by what is no request
        access_log=False,
        server_header=False,
        date_header=False,
        ws="none",
        lifespan="off",
        proxy_headers=False,  # nobody stands between: an address that somebody else writes down is no address
        timeout_graceful_shutdown=3,
        ssl_certfile=certificate,
        ssl_keyfile=key,
    )
    try:
        config.load()
    except (OSError, ssl.SSLError) as error:
        raise ListenError(f"cannot use the certificate {certificate} with its key {key}: {error}") from error

    class Server(uvicorn.Server):
        async def serve(self, sockets: list[socket.socket] | None = None) -> None:
            asyncio.get_running_loop().set_exception_handler(_Terminal(tell))
            await super().serve(sockets)

    return Server(config)
