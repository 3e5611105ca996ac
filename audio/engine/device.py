"""The edge to PortAudio: which devices there are, and streams on them. The one importer of sounddevice.

PortAudio freezes its list of devices when it starts, and numbers in it can come to mean another device. So the list is
made by a short-lived child process, devices are known by name, and a name is resolved anew at every start.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any, Literal

from ..errors import DeviceError

COMMON_RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
LIST_TIMEOUT_S = 20.0
LONGEST_LATENCY_S = 5.0
MOST_INPUTS_HEARD = 8  # beside the one wanted, so that a plug in the wrong socket is found
NO_LIBRARY = (
    "the PortAudio library is missing, which playback needs; install it (Debian, Ubuntu: apt install libportaudio2). "
    "Everything that does not play works without it"
)
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


def choose(found: list[Device], wanted: str | None, way: Way = "output") -> Device:
    """The device meant by a name: the whole name (with or without host API), else the only one that contains it.

    Raises
    ------
    DeviceError
        If there is none that plays (or records), or more than one; the message lists them.
    """
    able = [device for device in found if device.channels(way)]
    if not able:
        raise DeviceError(NO_DEVICE if way == "output" else NO_INPUT)
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


def open_stream(
    wanted: str | None,
    rate_hz: int,
    channels: int,
    latency_s: float,
    fill: Callable[[Any, int, float, Any], None],
) -> tuple[Any, dict[str, Any]]:
    """A running output stream that asks `fill` for every block, and what it is. In the engine's process only.

    Parameters
    ----------
    channels
        Channels needed; the stream has these or, where a device would spread fewer ones over all, two.
    fill
        Called as sounddevice calls it: outdata (frames, channels) float32, frames, time, status.

    Raises
    ------
    DeviceError
        If the device is absent or cannot play this rate or so many channels.
    """
    sounddevice = _library()
    index, output = _resolved(sounddevice, wanted, "output")
    _check_channels(output, channels, "output")
    opened = max(channels, min(2, output.outputs))
    _check_rate(sounddevice, index, output, opened, rate_hz, "output")
    try:
        stream = sounddevice.OutputStream(
            device=index,
            channels=opened,
            dtype="float32",
            samplerate=rate_hz,
            blocksize=0,
            latency=latency_s,
            callback=fill,
        )
        stream.start()
    except sounddevice.PortAudioError as error:
        raise DeviceError(f"{output.full_name} could not be opened: {error}; is another program using it?") from error
    return stream, {"name": output.full_name, "channels": opened, "latency_s": _stated(stream.latency, latency_s)}


def open_both_ways(
    wanted: tuple[str | None, str | None],
    rate_hz: int,
    channels: tuple[int, int],
    latency_s: float,
    block: int,
    work: Callable[[Any, Any, int, Any, Any], None],
) -> tuple[Any, dict[str, Any]]:
    """A running stream that plays and records at once, and what it is. In the engine's process only.

    Parameters
    ----------
    wanted
        Names of the playing and the recording device; None for the system's.
    channels
        Output and input channels needed. More inputs are opened where there are some, up to `MOST_INPUTS_HEARD`.
    block
        Frames a block; 0 lets the system choose.
    work
        Called as sounddevice calls it: indata, outdata (frames, channels) float32, frames, time, status.

    Raises
    ------
    DeviceError
        If a device is absent, cannot do this rate or so many channels, or the two cannot run together.
    """
    sounddevice = _library()
    out_index, output = _resolved(sounddevice, wanted[0], "output")
    in_index, source = _resolved(sounddevice, wanted[1], "input")
    _check_channels(output, channels[0], "output")
    _check_channels(source, channels[1], "input")
    opened = (
        max(channels[1], min(MOST_INPUTS_HEARD, source.inputs)),
        max(channels[0], min(2, output.outputs)),
    )
    _check_rate(sounddevice, out_index, output, opened[1], rate_hz, "output")
    _check_rate(sounddevice, in_index, source, opened[0], rate_hz, "input")
    try:
        stream = sounddevice.Stream(
            device=(in_index, out_index),
            channels=opened,
            dtype="float32",
            samplerate=rate_hz,
            blocksize=block,
            latency=latency_s,
            callback=work,
        )
        stream.start()
    except sounddevice.PortAudioError as error:
        raise DeviceError(
            f"{output.full_name} and {source.full_name} could not be opened together: {error}; is another program "
            "using one of them? Two devices run together only under one sound system"
        ) from error
    latencies = [_stated(latency, latency_s) for latency in stream.latency]
    return stream, {
        "output": output.full_name,
        "input": source.full_name,
        "outputs": opened[1],
        "inputs": opened[0],
        "latency_s": sum(latencies),
    }


def _library() -> Any:
    try:
        import sounddevice
    except OSError as error:  # sounddevice raises this, not ImportError, where PortAudio is not installed
        raise DeviceError(NO_LIBRARY) from error
    return sounddevice


def _resolved(sounddevice: Any, wanted: str | None, way: Way) -> tuple[int, Device]:
    found = _listed(sounddevice)
    chosen = choose([each for _, each in found], wanted, way)
    return next(place for place, each in found if each == chosen), chosen


def _check_channels(device: Device, channels: int, way: Way) -> None:
    if device.channels(way) < channels:
        raise DeviceError(
            f"{device.full_name} has {device.channels(way)} {way} channels, but {channels} are needed; "
            "name another device"
        )


def _check_rate(sounddevice: Any, index: int, device: Device, channels: int, rate_hz: int, way: Way) -> None:
    if not _takes(sounddevice, index, channels, rate_hz, way):
        usable = [rate for rate in COMMON_RATES_HZ if _takes(sounddevice, index, channels, rate, way)]
        listed = ", ".join(map(str, usable)) or "none of the common rates"
        does = "play" if way == "output" else "record"
        raise DeviceError(
            f"{device.full_name} cannot {does} {rate_hz} Hz (it takes: {listed}); set it to that rate, or prepare the "
            "passages again with --rate"
        )


def _listed(sounddevice: Any) -> list[tuple[int, Device]]:
    apis = sounddevice.query_hostapis()
    defaults = {}
    for place, way in ((1, "output"), (0, "input")):
        default = sounddevice.default.device[place]
        if default < 0 and apis:
            default = next((api[f"default_{way}_device"] for api in apis if api[f"default_{way}_device"] >= 0), -1)
        defaults[way] = default
    return [
        (
            place,
            Device(
                name=device["name"],
                host_api=apis[device["hostapi"]]["name"],
                outputs=device["max_output_channels"],
                inputs=device["max_input_channels"],
                default_rate_hz=round(device["default_samplerate"]),
                default_output=place == defaults["output"],
                default_input=place == defaults["input"],
                output_latency_s=float(device["default_high_output_latency"]),
                input_latency_s=float(device["default_high_input_latency"]),
            ),
        )
        for place, device in enumerate(sounddevice.query_devices())
        if device["max_output_channels"] > 0 or device["max_input_channels"] > 0
    ]


def _stated(latency: float, wanted_s: float) -> float:
    """The latency a stream states, or the one asked for where that cannot be (JACK gives nonsense for a client)."""
    return float(latency) if 0 <= latency <= LONGEST_LATENCY_S else wanted_s


def _takes(sounddevice: Any, index: int, channels: int, rate_hz: int, way: Way = "output") -> bool:
    check = sounddevice.check_output_settings if way == "output" else sounddevice.check_input_settings
    try:
        check(device=index, channels=channels, dtype="float32", samplerate=rate_hz)
    except sounddevice.PortAudioError:
        return False
    return True


def _asked(*arguments: str) -> dict[str, Any]:
    """What a fresh child process finds; PortAudio's list is as old as the process that asks for it."""
    try:
        child = subprocess.run(
            [sys.executable, "-m", "audio.engine.device", *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # sound servers' libraries write there what they please
            timeout=LIST_TIMEOUT_S,
            check=False,
        )
        answer: dict[str, Any] = json.loads(child.stdout.splitlines()[-1])
    except subprocess.TimeoutExpired as error:
        raise DeviceError(
            f"the sound system did not answer within {LIST_TIMEOUT_S:g} s; restart it and try again"
        ) from error
    except (IndexError, ValueError) as error:
        raise DeviceError("the sound system failed while its devices were listed; restart it and try again") from error
    if "error" in answer:
        raise DeviceError(answer["error"])
    return answer


def _rates(sounddevice: Any, name: str, way: Way) -> list[int]:
    index, device = _resolved(sounddevice, name, way)
    channels = min(2, device.channels(way))
    return [rate for rate in COMMON_RATES_HZ if _takes(sounddevice, index, channels, rate, way)]


def main() -> None:
    """Print what was asked for as one JSON line; run by `devices` and `usable_rates` in a child."""
    try:
        if sys.argv[1:2] == ["rates"]:
            way: Way = "input" if sys.argv[3] == "input" else "output"
            answer: dict[str, Any] = {"rates": _rates(_library(), sys.argv[2], way)}
        else:
            answer = {"devices": [asdict(device) for _, device in _listed(_library())]}
    except DeviceError as error:
        answer = {"error": str(error)}
    sys.stdout.write("\n" + json.dumps(answer) + "\n")


if __name__ == "__main__":
    main()
