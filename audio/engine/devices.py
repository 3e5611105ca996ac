"""Which sound devices there are, and which of them a name means.

PortAudio freezes its list of devices when it starts, and numbers in it can come to mean another device. So the list is
made by a short-lived child process, devices are known by name, and a name is resolved anew at every start.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from ..errors import DeviceError, NoDeviceError

LIST_TIMEOUT_S = 20.0
NO_DEVICE = (
    "no sound device to play on; connect one, or start the sound server (JACK, PipeWire). "
    "Everything that does not play works without it"
)
NO_INPUT = "no sound device to record from; connect the microphone's interface, or start the sound server"

Way = Literal["output", "input"]


@dataclass(frozen=True)
class Device:
    """One sound device as PortAudio lists it now.

    Attributes
    ----------
    outputs, inputs
        Its channels; 0 for none.
    default_output, default_input
        Whether the system means this one when none is named.
    output_latency_s, input_latency_s
        What the device states as its calm (high) latency.
    """

    name: str
    host_api: str
    outputs: int
    inputs: int
    default_rate_hz: int
    default_output: bool
    default_input: bool
    output_latency_s: float = 0.0
    input_latency_s: float = 0.0

    @property
    def full_name(self) -> str:
        """Name and host API, which together tell devices apart."""
        return f"{self.name}, {self.host_api}"

    def channels(self, way: Way) -> int:
        """Its channels in one direction."""
        return self.outputs if way == "output" else self.inputs


def devices() -> list[Device]:
    """The sound devices there are at this moment.

    Raises
    ------
    DeviceError
        If the PortAudio library is missing or does not answer.
    """
    return [Device(**found) for found in _asked("list")["devices"]]


def usable_rates(name: str, way: Way = "output") -> list[int]:
    """The common sample rates that a device takes now, on two channels (or its only one)."""
    return list(_asked("rates", name, way)["rates"])


@dataclass(frozen=True)
class Playable:
    """A device that plays what was asked of it: its full name, and the sample rates it takes now."""

    device: str
    rates_hz: frozenset[int]


def playable(name: str | None, channels: int, rates_hz: Sequence[int] = ()) -> Playable:
    """The device of that name now (None: the system's), and which rates it takes on so many channels.

    The common rates are tried, and those given. Nothing is opened: another program that uses it is found only when it
    is.

    Raises
    ------
    NoDeviceError
        If there is no device at all, or the sound system cannot be asked.
    DeviceError
        If there is none of that name, or it lacks the channels.
    """
    found = _asked("takes", name or "", str(channels), *map(str, rates_hz))
    return Playable(str(found["device"]), frozenset(found["rates"]))


def choose(found: list[Device], wanted: str | None, way: Way = "output") -> Device:
    """The device meant by a name: the whole name (with or without host API), else the only one that contains it.

    Raises
    ------
    DeviceError
        If there is none that plays (or records), or more than one; the message lists them.
    """
    able = [device for device in found if device.channels(way)]
    if not able:
        raise NoDeviceError(NO_DEVICE if way == "output" else NO_INPUT)
    if wanted is None:
        return next((d for d in able if (d.default_output if way == "output" else d.default_input)), able[0])
    folded = wanted.casefold()
    exact = [device for device in able if folded in (device.name.casefold(), device.full_name.casefold())]
    near = exact or [device for device in able if folded in device.full_name.casefold()]
    names = "; ".join(device.full_name for device in (near or able))
    if not near:
        raise DeviceError(f"no sound device called {wanted!r}; there are: {names}")
    if len(near) > 1:
        raise DeviceError(f"more than one sound device answers to {wanted!r}: {names}; name one in full")
    return near[0]


def _asked(*arguments: str) -> dict[str, Any]:
    """What a fresh child process finds; PortAudio's list is as old as the process that asks for it."""
    try:
        child = subprocess.run(
            [sys.executable, "-m", "audio.engine.portaudio", *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # sound servers' libraries write there what they please
            timeout=LIST_TIMEOUT_S,
            check=False,
        )
        answer: dict[str, Any] = json.loads(child.stdout.splitlines()[-1])
    except subprocess.TimeoutExpired as error:
        raise NoDeviceError(
            f"the sound system did not answer within {LIST_TIMEOUT_S:g} s; restart it and try again"
        ) from error
    except (IndexError, ValueError) as error:
        raise NoDeviceError(
            "the sound system failed while its devices were listed; restart it and try again"
        ) from error
    if "error" in answer:
        raise (NoDeviceError if answer.get("none") else DeviceError)(answer["error"])
    return answer
