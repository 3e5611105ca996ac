"""A line between two programs of one user: who cannot read its file hears nothing."""

from __future__ import annotations

import json
import os
import socket
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sessions.errors import ListenError
from sessions.listening import private_socket
from sessions.listening.private_socket import LONGEST_LINE, LOOPBACK, PrivateSocket


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "here.line"


def port_of(path: Path) -> int:
    return int(json.loads(path.read_text(encoding="utf-8"))["port"])


def meet(waiting: PrivateSocket, path: Path) -> bool:
    """Whether a caller who can read the file gets a line."""
    near = private_socket.call(path)
    far = waiting.line(2.0)
    for line in (near, far):
        if line is not None:
            line.close()
    return near is not None and far is not None


def all_heard(stranger: socket.socket) -> bytes:
    """All that is said until the other side hangs up."""
    stranger.settimeout(2 * private_socket.GREETING_S)
    heard = b""
    try:
        while part := stranger.recv(4096):
            heard += part
    except ConnectionResetError:
        pass
    return heard


def test_what_is_said_arrives_both_ways_in_whole_lines(path: Path) -> None:
    with PrivateSocket(path) as waiting:
        near = private_socket.call(path)
        assert near is not None
        far = waiting.line(2.0)
        assert far is not None
        with near, far:
            far.send("cables to sallow")
            far.send("käse")
            assert [near.receive(2.0), near.receive(2.0)] == ["cables to sallow", "käse"]
            near.send("1")
            assert far.receive(2.0) == "1"
            began = time.monotonic()
            assert far.receive(0.2) is None
            assert 0.1 < time.monotonic() - began < 2


def test_the_file_is_for_this_user_alone_and_goes_with_the_line(path: Path) -> None:
    with PrivateSocket(path):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert len(json.loads(path.read_text(encoding="utf-8"))["secret"]) == 64
        assert [left.name for left in path.parent.iterdir()] == [path.name]
    assert not path.exists()


def test_each_line_has_a_secret_of_its_own(path: Path) -> None:
    secrets = []
    for _ in range(2):
        with PrivateSocket(path):
            secrets.append(json.loads(path.read_text(encoding="utf-8"))["secret"])
    assert secrets[0] != secrets[1]


@pytest.mark.parametrize(
    "says", [b"question\n" + b"0" * 64 + b"\n", b"\n\n", b"x" * (LONGEST_LINE + 10), b"\xff\xfe\n\xff\n"]
)
def test_whoever_does_not_know_the_secret_hears_nothing_of_what_is_said(path: Path, says: bytes) -> None:
    with PrivateSocket(path) as waiting, socket.create_connection((LOOPBACK, port_of(path))) as stranger:
        stranger.sendall(says)
        assert waiting.line(0.5) is None
        heard = all_heard(stranger).splitlines()
        assert len(heard) <= 2  # a question, and a proof that nobody can ask for again
        secret = json.loads(path.read_text(encoding="utf-8"))["secret"]
        assert not [line for line in heard if secret.encode() in line]


def test_a_wrong_secret_gets_no_line(path: Path, tmp_path: Path) -> None:
    with PrivateSocket(path) as waiting:
        forged = tmp_path / "forged.line"
        document = json.loads(path.read_text(encoding="utf-8"))
        forged.write_text(json.dumps(document | {"secret": "0" * 64}), encoding="utf-8")
        assert private_socket.call(forged) is None
        assert waiting.line(0.2) is None
        assert meet(waiting, path)  # and the right one gets it afterwards


def test_a_proof_cannot_be_turned_round(path: Path) -> None:
    """A stranger who sends our own question back gets our proof, which is none of theirs."""
    with PrivateSocket(path) as waiting, socket.create_connection((LOOPBACK, port_of(path))) as stranger:
        stranger.settimeout(2.0)
        question = stranger.recv(4096)
        stranger.sendall(question)
        proof = stranger.recv(4096)
        stranger.sendall(proof)
        assert waiting.line(0.5) is None


def test_a_silent_stranger_does_not_keep_the_assistant_out(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(private_socket, "GREETING_S", 0.5)
    with PrivateSocket(path) as waiting, socket.create_connection((LOOPBACK, port_of(path))):
        time.sleep(0.1)
        monkeypatch.setattr(private_socket, "GREETING_S", 5.0)
        assert meet(waiting, path)


def test_where_nobody_waits_nobody_answers(path: Path) -> None:
    assert private_socket.call(path) is None
    with PrivateSocket(path):
        left = path.read_text(encoding="utf-8")
    path.write_text(left, encoding="utf-8")  # as a session that was killed leaves it
    assert private_socket.call(path) is None
    path.write_text("no document", encoding="utf-8")
    assert private_socket.call(path) is None


def test_a_line_left_behind_by_a_killed_session_is_replaced(path: Path) -> None:
    program = f"""
import time
from pathlib import Path
from sessions.listening.private_socket import PrivateSocket
PrivateSocket(Path({str(path)!r}))
print("open", flush=True)
time.sleep(60)
"""
    with subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        child.stdout.readline()
        child.kill()
    assert path.exists()
    with PrivateSocket(path) as waiting:
        assert meet(waiting, path)


def test_the_runtime_folder_is_this_users_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    folder = private_socket.runtime_folder()
    assert folder == tmp_path / "earwitness"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    os.chmod(folder, 0o755)
    with pytest.raises(ListenError, match="is open to others; remove it, then try again"):
        private_socket.runtime_folder()
    with pytest.raises(ListenError, match="is open to others"):
        private_socket.call(folder / "here.line")


def test_strangers_who_stay_silent_keep_nobody_out(path: Path) -> None:
    with PrivateSocket(path) as waiting:
        port = port_of(path)
        strangers = [socket.create_connection((LOOPBACK, port)) for _ in range(8)]
        try:
            assert meet(waiting, path)
        finally:
            for stranger in strangers:
                stranger.close()


def test_without_a_runtime_folder_it_lies_in_the_users_home_and_warns_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("XDG_RUNTIME_DIR", raising=False)
    monkeypatch.delenv("XDG_STATE_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    folder = private_socket.runtime_folder()  # a warning would be an error here
    assert folder.is_relative_to(tmp_path)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
