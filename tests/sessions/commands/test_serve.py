"""`serve`: a real process that is asked once and stopped, and what it refuses."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from contextlib import ExitStack
from pathlib import Path

import pytest

from sessions.casebook.store import LOCKS, Casebook
from sessions.commands import listen, serve
from sessions.listening import session
from sessions.pages import addresses, kept_guests, server
from tests.answered_plans import sealed_plan
from tests.command_line import Keyboard, earwitness

PROGRAM = "from sessions.commands.main import main; main()"


@pytest.mark.parametrize("lan", [False, True])
def test_it_serves_the_pages_until_ctrl_c_and_lets_nobody_in_afterwards(sealed: Casebook, lan: bool) -> None:
    sealed.close()
    words = [sys.executable, "-u", "-c", PROGRAM, "--casebook", str(sealed.folder)]
    words += ["serve", "--no-browser", "--port", "0", *(["--lan", "--sound", "browser"] if lan else [])]
    running = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert running.stdout is not None
    said = ""
    while "Stop with Ctrl-C" not in said:
        line = running.stdout.readline()
        assert line, said
        said += line
    found = re.search(r"http://127\.0\.0\.1:(\d+)/desk#[0-9A-Z-]{19}", said)
    assert found is not None
    assert re.search(rf"http://[\w.]+:{found[1]}/#[0-9A-Z]{{3}}-[0-9A-Z]{{3}}", said)
    assert ("wireless network" in said) is lan
    whence = "each listener's browser" if lan else "this machine"
    assert f"Sound comes from {whence};" in said
    here = f"http://127.0.0.1:{found[1]}"
    with urllib.request.urlopen(f"{here}/") as page:
        assert b"Come in and listen" in page.read()
        assert {"server", "date"} & {name.lower() for name in page.headers} == set()
    for module in ("static/chair.js", "sound/page_sound.js"):
        with urllib.request.urlopen(f"{here}/{module}") as script:
            assert script.headers["content-type"].startswith("text/javascript")
    with pytest.raises(urllib.error.HTTPError, match="421"):
        urllib.request.urlopen(urllib.request.Request(here, headers={"Host": "evil.example"}))
    second = earwitness(sealed.folder, "serve", "--no-browser", "--port", "0")
    assert second.returncode == 2
    assert "is running in another window" in second.stderr
    assert (sealed.folder / LOCKS / kept_guests.NAME).exists()
    running.send_signal(signal.SIGINT)
    said, _ = running.communicate(timeout=20)
    assert "The pages are closed. To open them again: earwitness --casebook" in said
    typed = "--lan --port 0 --no-browser --sound browser" if lan else "--port 0 --no-browser"
    assert said.rstrip().endswith(f" serve {typed}")
    assert running.returncode == 0
    assert not (sealed.folder / LOCKS / kept_guests.NAME).exists()


def test_where_nobody_waits_for_the_plan_that_is_named_the_next_step_is_told(sealed: Casebook) -> None:
    refused = earwitness(sealed.folder, "serve", "morning", "--no-browser")
    assert refused.returncode == 2
    assert "plan 'morning' does not wait for anybody to listen; next, " in refused.stderr


def test_a_port_that_is_taken_and_half_a_certificate_are_refused_in_one_line(sealed: Casebook, tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind((addresses.LOOPBACK, 0))
        other.listen()
        port = other.getsockname()[1]
        refused = earwitness(sealed.folder, "serve", "--no-browser", "--port", str(port))
    assert refused.returncode == 2
    assert f"cannot serve on port {port}" in refused.stderr
    assert "--port" in refused.stderr
    half = earwitness(sealed.folder, "serve", "--no-browser", "--tls-cert", str(tmp_path / "cert.pem"))
    assert "give both" in half.stderr
    two = earwitness(sealed.folder, "serve", "--no-browser", "--sound", "browser", "--device", "box")
    assert "with --sound browser leave it out" in two.stderr
    one = earwitness(sealed.folder, "serve", "--no-browser", "--lan", "--sound", "browser", "--dba", "72")
    assert (one.returncode, "each device plays at a level of its own" in one.stderr) == (2, True)
    wrong = tmp_path / "cert.pem"
    wrong.write_text("no certificate")
    none = earwitness(
        sealed.folder, "serve", "--no-browser", "--port", "0", "--tls-cert", str(wrong), "--tls-key", str(wrong)
    )
    assert none.returncode == 2
    assert "cannot use the certificate" in none.stderr


def test_only_the_local_network_may_ask_by_this_machines_names() -> None:
    own = addresses.hosts(8421, lan=False)
    assert own == ["127.0.0.1:8421", "localhost:8421"]
    wide = addresses.hosts(8421, lan=True)
    assert {*own} < {*wide}
    assert all(one.endswith(":8421") for one in wide)
    assert f"{socket.gethostname().lower()}:8421" in wide


def test_a_free_port_is_taken_where_none_is_named() -> None:
    with server.listening(addresses.LOOPBACK, 0) as door:
        assert door.getsockname()[1] > 0


def test_listen_opens_the_page_where_no_screen_can_be_drawn(sealed: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setitem(sys.modules, "_curses", None)
    monkeypatch.setattr("sys.stdin", Keyboard("y\n"))
    monkeypatch.setattr("webbrowser.open", lambda address: opened.append(address) or True)
    monkeypatch.setattr(server, "serve", lambda *_: None)
    listening = server.listening
    monkeypatch.setattr(server, "listening", lambda address, port: listening(address, 0))  # other tests run beside
    done = earwitness(sealed.folder, "listen")
    assert done.returncode == 0, done.stderr
    assert "Open the plan as a page in a browser instead?" in done.stdout
    assert "The pages are closed" in done.stdout
    [address] = opened
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/#[0-9A-Z]{3}-[0-9A-Z]{3}", address)
    monkeypatch.setattr("sys.stdin", Keyboard("n\n"))
    refused = earwitness(sealed.folder, "listen")
    assert refused.returncode == 2
    assert refused.stderr.strip().endswith("by a page in a browser: earwitness --casebook " + f"{sealed.folder} serve")


def test_a_terminal_session_whose_setups_are_swapped_opens_the_assistants_page(
    swapped: Casebook, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", lambda address: opened.append(address) or True)
    sealed_plan(swapped, method="abx", trials=8, operator="Bo")
    none = earwitness(swapped.folder, "assist", "evening")
    assert none.returncode == 2
    assert "no session of this casebook is running; start earwitness" in none.stderr
    with session.begin(swapped, "evening", "Ada", "none: test") as running, ExitStack() as stack:
        line = listen._assistant_line(running, False, stack)
        assert line is not None
        said = capsys.readouterr().out
        done = earwitness(swapped.folder, "assist", "evening")
        assert done.returncode == 0, done.stderr
        [address] = opened
        assert address in done.stdout
        assert address in said
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/assist#[0-9A-Z-]{19}", address)
        with urllib.request.urlopen(address) as page:
            assert b"The assistant" in page.read()
    assert earwitness(swapped.folder, "assist", "evening", "--no-browser").returncode == 2
    assert len(opened) == 1


def test_cards_are_one_listeners(swapped: Casebook, tmp_path: Path) -> None:
    sealed_plan(swapped, method="abx", trials=8, operator="Bo")
    cards = tmp_path / "cards.txt"
    assert "name them with --listener" in earwitness(swapped.folder, "assist", "evening", "--cards", str(cards)).stderr
    assert earwitness(swapped.folder, "assist", "evening", "--listener", "Ada", "--cards", str(cards)).returncode == 0
    assert "cables to sallow" in cards.read_text(encoding="utf-8")


@pytest.mark.parametrize("waits", [False, True])
def test_where_nobody_waits_to_listen_it_is_the_desk_that_is_opened(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch, waits: bool
) -> None:
    if waits:
        sealed_plan(casebook, method="abx", trials=6)
    casebook.close()
    opened = list[str]()
    monkeypatch.setattr(server, "serve", lambda *_: None)
    monkeypatch.setattr(serve, "open_browser", opened.append)
    assert earwitness(casebook.folder, "serve", "--port", "0").returncode == 0
    [address] = opened
    assert ("/desk#" in address) is not waits
