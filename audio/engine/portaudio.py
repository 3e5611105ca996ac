"""The edge to PortAudio: streams on its devices. The one importer of sounddevice.

As a program it prints the list of devices, for `devices` in another process.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, Protocol

from ..errors import DeviceError, NoDeviceError
from .devices import Device, Way, choose
from .operating_system import leave_with
from .orders import Opened, OpenedBothWays

COMMON_RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
LONGEST_LATENCY_S = 5.0
MOST_INPUTS_HEARD = 8  # beside the one wanted, so that a plug in the wrong socket is found
NO_LIBRARY = (
    "the PortAudio library is missing, which playback needs; install it (Debian, Ubuntu: apt install libportaudio2). "
    "Everything that does not play works without it"
)

Fill = Callable[[Any, int, Any, Any], None]
"""Fills outdata, shape (frames, channels) float32, as sounddevice calls it: outdata, frames, time, status."""


class Stream(Protocol):
    """A running stream."""

    def abort(self, ignore_errors: bool = True) -> None:
        """Stop at once."""

    def close(self, ignore_errors: bool = True) -> None:
        """Give the device back."""


OpenStream = Callable[[str | None, int, int, float, Fill], tuple[Stream, Opened]]
"""Opens a device's stream: name, rate in Hz, channels, latency in seconds, and what fills it."""


def open_stream(
    wanted: str | None,
    rate_hz: int,
    channels: int,
    latency_s: float,
    fill: Fill,
) -> tuple[Stream, Opened]:
    """A running output stream that asks `fill` for every block, and what it is. In the engine's process only.

    Parameters
    ----------
    channels
        Channels needed; the stream has these or, where a device would spread fewer ones over all, two.
    fill
        Called for every block.

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
    return stream, Opened(output.full_name, opened, _stated(stream.latency, latency_s))


def open_both_ways(
    wanted: tuple[str | None, str | None],
    rate_hz: int,
    channels: tuple[int, int],
    latency_s: float,
    block: int,
    work: Callable[[Any, Any, int, Any, Any], None],
) -> tuple[Stream, OpenedBothWays]:
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
    return stream, OpenedBothWays(output.full_name, source.full_name, sum(latencies))


def _library() -> Any:
    try:
        import sounddevice
    except OSError as error:  # sounddevice raises this, not ImportError, where PortAudio is not installed
        raise NoDeviceError(NO_LIBRARY) from error
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


def _rates(sounddevice: Any, name: str, way: Way) -> list[int]:
    index, device = _resolved(sounddevice, name, way)
    channels = min(2, device.channels(way))
    return [rate for rate in COMMON_RATES_HZ if _takes(sounddevice, index, channels, rate, way)]


def _taken(sounddevice: Any, name: str, channels: int, rates_hz: list[int]) -> dict[str, Any]:
    index, device = _resolved(sounddevice, name or None, "output")
    _check_channels(device, channels, "output")
    opened = max(channels, min(2, device.outputs))
    tried = sorted({*COMMON_RATES_HZ, *rates_hz})
    return {
        "device": device.full_name,
        "rates": [rate for rate in tried if _takes(sounddevice, index, opened, rate, "output")],
    }


def main() -> None:
    """Print what was asked for as one JSON line; run by `devices` in a child, which ends with who asked."""
    threading.Thread(target=leave_with, args=(os.getppid(),), daemon=True).start()  # a dead sound server may hang it
    try:
        if sys.argv[1:2] == ["rates"]:
            way: Way = "input" if sys.argv[3] == "input" else "output"
            answer: dict[str, Any] = {"rates": _rates(_library(), sys.argv[2], way)}
        elif sys.argv[1:2] == ["takes"]:
            answer = _taken(_library(), sys.argv[2], int(sys.argv[3]), [int(rate) for rate in sys.argv[4:]])
        else:
            answer = {"devices": [asdict(device) for _, device in _listed(_library())]}
    except DeviceError as error:
        answer = {"error": str(error), "none": isinstance(error, NoDeviceError)}
    sys.stdout.write("\n" + json.dumps(answer) + "\n")


if __name__ == "__main__":
    main()
