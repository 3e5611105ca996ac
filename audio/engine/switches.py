"""Outside switches: a command that is run, bytes sent down a serial line, an assistant who is asked. The edge to them.

The one importer of pyserial. A switch is asked for a setup's place; it answers in time or fails with one line. What it
does is the same whether the setup changes or not, and always goes through the neutral position where there is one.
"""

from __future__ import annotations

import shutil
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from ..errors import DeviceError
from .operating_system import end_command, start_command


class SwitchError(DeviceError):
    """A switch that failed, hung, or answered something else."""


class Switch(Protocol):
    """Anything that leads the sound to one setup's gear."""

    def to(self, place: int, seconds: float) -> None:
        """Lead the sound to the setup at that place, within the time given; raises SwitchError."""

    def close(self) -> None:
        """Leave the neutral position behind, where there is one."""


@dataclass(frozen=True)
class CommandSwitch:
    """A command for each setup, run without a shell; exit status 0 confirms it.

    Parameters
    ----------
    commands
        For each place its words.
    park
        The command for the neutral position; empty for none.
    """

    commands: Sequence[Sequence[str]]
    park: Sequence[str] = ()

    def to(self, place: int, seconds: float) -> None:
        """Run the neutral position's command, then the setup's."""
        end = time.monotonic() + seconds
        for words in (self.park, self.commands[place]):
            if words:
                run(words, end - time.monotonic())

    def close(self) -> None:
        """Run the neutral position's command."""
        if self.park:
            run(self.park, 5.0)


def run(words: Sequence[str], seconds: float) -> None:
    """Run a command to its end; it is killed, with what it started, when the time is over.

    Raises
    ------
    SwitchError
        If it cannot be run, fails, or takes too long.
    """
    shown = " ".join(words)
    try:
        child = start_command(words)
    except OSError as error:
        raise SwitchError(
            f"the switch's command {shown!r} cannot be run: {error.strerror}; check it by hand"
        ) from error
    try:
        _, complaint = child.communicate(timeout=max(seconds, 0.001))
    except subprocess.TimeoutExpired as error:
        end_command(child)
        child.communicate()
        raise SwitchError(
            f"the switch's command {shown!r} was not done in time; make it quicker, or give more with --hold"
        ) from error
    if child.returncode != 0:
        last = (complaint.decode(errors="replace").strip().splitlines() or ["no message"])[-1]
        raise SwitchError(f"the switch's command {shown!r} failed with status {child.returncode} ({last[:100]})")


def check_command(words: Sequence[str]) -> None:
    """Nothing, if there is such a command; it is not run, since gear hangs on it.

    Raises
    ------
    SwitchError
        If there is none, or it may not be run.
    """
    if shutil.which(words[0]) is None:
        raise SwitchError(f"the switch's command {words[0]!r} is not there, or may not be run; check its name")


def check_port(port: str, baud: int) -> None:
    """Nothing, if a serial port is there and can be opened at this speed; nothing is sent.

    Raises
    ------
    SwitchError
        If it cannot.
    """
    import serial

    try:
        line = serial.Serial()
        line.port, line.baudrate, line.dtr, line.rts = port, baud, False, False  # so that no board is started anew
        line.open()
        line.close()
    except (serial.SerialException, OSError, ValueError) as error:
        raise SwitchError(f"the switch's serial port {port} does not work: {error}; check --port") from error


class SerialSwitch:
    """Bytes for each setup, sent down a serial line; the bytes it answers confirm it, where it answers.

    Parameters
    ----------
    messages
        For each place its port, its speed in baud, the bytes to send, and the bytes that must come back (may be none).
    park
        The bytes for the neutral position, sent to the same port; empty for none.
    """

    def __init__(self, messages: Sequence[tuple[str, int, bytes, bytes]], park: bytes = b"") -> None:
        self._messages = list(messages)
        self._park = park
        self._lines: dict[str, Any] = {}
        self._last = 0

    def to(self, place: int, seconds: float) -> None:
        """Send the neutral position's bytes, then the setup's, each with its answer."""
        end = time.monotonic() + seconds
        port, baud, message, reply = self._messages[place]
        self._last = place
        if self._park:
            self._send(port, baud, self._park, reply, end)
        self._send(port, baud, message, reply, end)

    def close(self) -> None:
        """Send the neutral position's bytes and close the lines."""
        try:
            if self._park and self._lines:
                port, baud, _, reply = self._messages[self._last]
                self._send(port, baud, self._park, reply, time.monotonic() + 2.0)
        finally:
            for line in self._lines.values():
                line.close()
            self._lines = {}

    def _send(self, port: str, baud: int, message: bytes, reply: bytes, end: float) -> None:
        import serial

        left = max(end - time.monotonic(), 0.001)
        try:
            if port not in self._lines:
                self._lines[port] = serial.Serial(port, baud, timeout=left, write_timeout=left)
            line = self._lines[port]
            line.timeout = line.write_timeout = left
            line.reset_input_buffer()
            line.write(message)
            line.flush()
            heard = line.read(len(reply)) if reply else b""
        except serial.SerialTimeoutException as error:
            raise SwitchError(f"the switch at {port} takes no bytes; check its cable and power") from error
        except (serial.SerialException, OSError, ValueError) as error:
            self._drop(port)
            raise SwitchError(f"the switch's serial port {port} does not work: {error}; check --port") from error
        if heard != reply:
            said = heard.hex(" ") or "nothing"
            raise SwitchError(f"the switch at {port} answered {said}, not {reply.hex(' ')}; check its bytes and speed")

    def _drop(self, port: str) -> None:
        line = self._lines.pop(port, None)
        if line is not None:
            line.close()


@dataclass(frozen=True)
class AssistantSwitch:
    """A person who swaps by hand. `ask` shows them the setup at a place and says whether they confirmed in time."""

    ask: Callable[[int, float], bool]

    def to(self, place: int, seconds: float) -> None:
        """Ask the assistant."""
        if not self.ask(place, seconds):
            raise SwitchError("the assistant did not confirm the swap in time; give more time with --hold, or rehearse")

    def close(self) -> None:
        """Nothing: a person goes by themselves."""
