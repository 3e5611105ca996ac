"""Outside switches: real child processes, a serial line on a pseudo-terminal; quick, slow, failing and hanging ones."""

from __future__ import annotations

import os
import sys
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from audio.engine.switches import AssistantSwitch, CommandSwitch, SerialSwitch, SwitchError, run


def python(program: str) -> list[str]:
    return [sys.executable, "-c", program]


def test_a_command_is_run_without_a_shell_always_through_the_neutral_position(tmp_path: Path) -> None:
    log = tmp_path / "log"

    def note(word: str) -> list[str]:
        return python(f"open({str(log)!r}, 'a').write({word!r} + '\\n')")

    switch = CommandSwitch([note("one; rm -rf x"), note("two")], note("park"))
    for place in (0, 0, 1):
        switch.to(place, 10)
    switch.close()
    assert log.read_text().split("\n") == [
        "park", "one; rm -rf x", "park", "one; rm -rf x", "park", "two", "park", "",
    ]  # fmt: skip


def test_a_command_that_fails_says_its_last_words() -> None:
    with pytest.raises(SwitchError, match=r"failed with status 3 \(relay stuck\)"):
        run(python("import sys; print('relay stuck', file=sys.stderr); sys.exit(3)"), 10)


def test_a_command_that_is_not_there_is_named() -> None:
    with pytest.raises(SwitchError, match="'no-such-relay a' cannot be run: No such file"):
        run(["no-such-relay", "a"], 10)


def test_a_hanging_command_is_killed_with_its_children(tmp_path: Path) -> None:
    mark = tmp_path / "pid"
    program = (
        "import subprocess, sys, time\n"
        f"child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(60)'])\n"
        f"open({str(mark)!r}, 'w').write(str(child.pid))\n"
        "time.sleep(60)"
    )
    began = time.monotonic()
    with pytest.raises(SwitchError, match="not done in time"):
        run(python(program), 1.5)
    assert time.monotonic() - began < 10
    child = int(mark.read_text())
    give_up = time.monotonic() + 5
    while Path(f"/proc/{child}").exists() and "Z" not in Path(f"/proc/{child}/stat").read_text().split()[2]:
        assert time.monotonic() < give_up, "the command's child outlived it"
        time.sleep(0.05)


class Relay:
    """A relay box on a pseudo-terminal: it keeps what it is sent and answers as told."""

    def __init__(self, answers: dict[bytes, bytes], length: int = 2) -> None:
        self.got: list[bytes] = []
        self.box, self._far = os.openpty()
        tty.setraw(self._far)
        self.port = os.ttyname(self._far)
        self._answers, self._length = answers, length
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                order = os.read(self.box, self._length)
            except OSError:
                return
            self.got.append(order)
            os.write(self.box, self._answers.get(order, b""))

    def close(self) -> None:
        os.close(self._far)
        os.close(self.box)


@pytest.fixture
def relay() -> Iterator[Relay]:
    box = Relay({b"\xa0\x01": b"ok", b"\xa0\x02": b"ok", b"\xa0\x00": b"ok", b"\xa0\x09": b"no"})
    yield box
    box.close()


def test_serial_bytes_arrive_and_the_reply_confirms(relay: Relay) -> None:
    switch = SerialSwitch([(relay.port, 9600, b"\xa0\x01", b"ok"), (relay.port, 9600, b"\xa0\x02", b"ok")], b"\xa0\x00")
    switch.to(0, 5)
    switch.to(1, 5)
    switch.to(1, 5)
    switch.close()
    assert relay.got == [b"\xa0\x00", b"\xa0\x01", b"\xa0\x00", b"\xa0\x02", b"\xa0\x00", b"\xa0\x02", b"\xa0\x00"]


def test_a_wrong_or_missing_reply_is_a_failure(relay: Relay) -> None:
    with pytest.raises(SwitchError, match="answered 6e 6f, not 6f 6b"):
        SerialSwitch([(relay.port, 9600, b"\xa0\x09", b"ok")]).to(0, 1)
    with pytest.raises(SwitchError, match="answered nothing"):
        SerialSwitch([(relay.port, 9600, b"\xff\xff", b"ok")]).to(0, 0.5)


def test_a_port_that_is_not_there_is_named() -> None:
    with pytest.raises(SwitchError, match="serial port /dev/no-such-port does not work"):
        SerialSwitch([("/dev/no-such-port", 9600, b"x", b"")]).to(0, 1)


def test_an_assistant_who_does_not_confirm_is_a_failure() -> None:
    AssistantSwitch(lambda place, seconds: True).to(0, 1)
    with pytest.raises(SwitchError, match="did not confirm"):
        AssistantSwitch(lambda place, seconds: False).to(0, 1)
