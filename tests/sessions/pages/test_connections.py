"""Connections that bring no request: how long they are waited for, how many there may be, and what is said of them."""

from __future__ import annotations

import errno
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from signal import SIGINT

import pytest
from starlette.testclient import TestClient

from sessions.casebook.store import Casebook
from sessions.pages import server
from sessions.pages.app import create_app
from sessions.pages.joining import Guests
from sessions.pages.room import Room
from tests.pages import silent_house

SERVED = """
import sys
from pathlib import Path
from sessions.pages import server
from tests import pages
server.PATIENCE_S, server.MOST_CONNECTIONS = 1.5, 12
pages.main([sys.argv[1], "0"])
"""


def half_of(host: str) -> bytes:
    """A request whose body does not come."""
    head = f"POST /join HTTP/1.1\r\nhost: {host}\r\norigin: http://{host}\r\ncontent-type: application/json\r\n"
    return f"{head}content-length: 9000\r\n\r\n{{".encode()


def joins(port: int, code: str) -> bool:
    host = f"127.0.0.1:{port}"
    head = f"POST /join HTTP/1.1\r\nhost: {host}\r\norigin: http://{host}\r\ncontent-type: application/json\r\n"
    body = f'{{"code": "{code}"}}'
    with closing(socket.create_connection(("127.0.0.1", port), 10)) as own:
        own.sendall(f"{head}connection: close\r\ncontent-length: {len(body)}\r\n\r\n{body}".encode())
        return own.recv(15) == b"HTTP/1.1 200 OK"


def is_closed(one: socket.socket, wait_s: float) -> bool:
    one.settimeout(wait_s)
    try:
        return one.recv(1) == b""
    except ConnectionError:
        return True
    except TimeoutError:
        return False


@pytest.fixture
def serving(sealed: Casebook) -> Iterator[tuple[subprocess.Popen[str], int, str]]:
    sealed.close()
    command = [sys.executable, "-c", SERVED, str(sealed.folder)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=Path(__file__).parents[3]
    ) as process:
        assert process.stdout is not None
        port, code = process.stdout.readline().split()
        yield process, int(port), code
        process.kill()


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is no signal there")
def test_halves_of_requests_are_closed_in_time_keep_nobody_out_and_leave_the_terminal_quiet(
    serving: tuple[subprocess.Popen[str], int, str],
) -> None:
    process, port, code = serving
    half = half_of(f"127.0.0.1:{port}")
    begun = time.monotonic()
    slow = [socket.create_connection(("127.0.0.1", port), 10) for _ in range(40)]  # 12 are let stay
    for number, one in enumerate(slow):
        one.sendall((b"", b"G", half, half)[number % 4])
    assert joins(port, code)
    assert is_closed(slow[0], 1.0)  # it made place for others
    assert all(is_closed(one, 5.0) for one in slow)
    assert 1.0 < time.monotonic() - begun < 8.0
    assert joins(port, code)
    last = [socket.create_connection(("127.0.0.1", port), 10) for _ in range(8)]
    for one in last:
        one.sendall(half)
    last[0].sendall(b"no request at all\r\n\r\n")
    time.sleep(0.2)
    process.send_signal(SIGINT)
    _, said = process.communicate(timeout=20)
    assert said == ""
    for one in slow + last:
        one.close()


def test_that_no_file_is_left_for_a_connection_is_said_once() -> None:
    import asyncio

    said = list[str]()
    terminal, loop = server._Terminal(said.append), asyncio.new_event_loop()
    with closing(loop):
        for _ in range(100):
            terminal(loop, {"message": "accept", "exception": OSError(errno.EMFILE, "Too many open files")})
    assert said == ["No more pages can be let in for now (Too many open files); those that are in go on."]


@pytest.mark.parametrize(
    ("scheme", "name", "sent"),
    [("http", "192.168.1.20", False), ("http", "127.0.0.1", True), ("http", "localhost", True), ("https", "h", True)],
)
def test_only_where_a_browser_honours_it_a_page_asks_to_be_kept_apart(
    tmp_path: Path, scheme: str, name: str, *, sent: bool
) -> None:
    host = f"{name}:8421"
    app = create_app(Room(silent_house(tmp_path), Guests()), [host], f"{scheme}://{host}", scheme=scheme)
    headers = TestClient(app, base_url=f"{scheme}://{host}").get("/static/dom.js").headers
    assert ("cross-origin-opener-policy" in headers) == sent
    assert headers["x-content-type-options"] == "nosniff"
