"""The pages on a port of this machine, until they are stopped. The only user of uvicorn."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.types import ASGIApp

from ..errors import ListenError

if TYPE_CHECKING:
    import uvicorn

USUAL_PORT = 8421
BACKLOG = 128


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


def serve(app: ASGIApp, door: socket.socket, certificate: Path | None = None, key: Path | None = None) -> None:
    """Serve until Ctrl-C; it says nothing of who asks what.

    Raises
    ------
    ListenError
        If certificate and key do not fit.
    """
    with contextlib.suppress(KeyboardInterrupt):
        _server(app, certificate, key).run(sockets=[door])


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


def _protocol() -> type[asyncio.Protocol]:
    from uvicorn.protocols.http.h11_impl import H11Protocol

    class Protocol(H11Protocol):
        def connection_made(self, transport: asyncio.BaseTransport) -> None:
            super().connection_made(_OneWrite(transport))  # type: ignore[arg-type]

    return Protocol


def _server(app: ASGIApp, certificate: Path | None = None, key: Path | None = None) -> uvicorn.Server:
    import ssl

    import uvicorn

    config = uvicorn.Config(
        app,
        http=_protocol(),
        log_config=None,
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
    return uvicorn.Server(config)
