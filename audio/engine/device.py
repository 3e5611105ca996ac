"""The edge to PortAudio: which outputs there are, and a stream on one of them. The one importer of sounddevice.

PortAudio freezes its list of devices when it starts, and numbers in it can come to mean another device. So the list is
made by a short-lived child process, devices are known by name, and a name is resolved anew at every start.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from ..errors import DeviceError

COMMON_RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
LIST_TIMEOUT_S = 20.0
NO_LIBRARY = (
    "the PortAudio library is missing, which playback needs; install it (Debian, Ubuntu: apt install libportaudio2). "
    "Everything that does not play works without it"
)
NO_DEVICE = (
    "no sound device to play on; connect one, or start the sound server (JACK, PipeWire). "
    "Everything that does not play works without it"
)


@dataclass(frozen=True)
class Output:
    """One playback device as PortAudio lists it now."""

    name: str
    host_api: str
    channels: int
    default_rate_hz: int
    default: bool

    @property
    def full_name(self) -> str:
        """Name and host API, which together tell devices apart."""
        return f"{self.name}, {self.host_api}"


def outputs() -> list[Output]:
    """The playback devices there are at this moment.

    Raises
    ------
    DeviceError
        If the PortAudio library is missing or does not answer.
    """
    try:
        child = subprocess.run(
            [sys.executable, "-m", "audio.engine.device"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # sound servers' libraries write there what they please
            timeout=LIST_TIMEOUT_S,
            check=False,
        )
        answer = json.loads(child.stdout.splitlines()[-1])
    except subprocess.TimeoutExpired as error:
        raise DeviceError(
            f"the sound system did not answer within {LIST_TIMEOUT_S:g} s; restart it and try again"
        ) from error
    except (IndexError, ValueError) as error:
        raise DeviceError("the sound system failed while its devices were listed; restart it and try again") from error
    if "error" in answer:
        raise DeviceError(answer["error"])
    return [Output(**found) for found in answer["outputs"]]


def choose(found: list[Output], wanted: str | None) -> Output:
    """The output meant by a name: the whole name (with or without host API), else the only one that contains it.

    Raises
    ------
    DeviceError
        If there is none, or more than one; the message lists them.
    """
    if not found:
        raise DeviceError(NO_DEVICE)
    if wanted is None:
        return next((output for output in found if output.default), found[0])
    folded = wanted.casefold()
    exact = [output for output in found if folded in (output.name.casefold(), output.full_name.casefold())]
    near = exact or [output for output in found if folded in output.full_name.casefold()]
    names = "; ".join(output.full_name for output in (near or found))
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
    found = _listed(sounddevice)
    output = choose([each for _, each in found], wanted)
    index = next(place for place, each in found if each == output)
    if output.channels < channels:
        raise DeviceError(
            f"{output.full_name} has {output.channels} output channels, but {channels} are needed; name another device"
        )
    opened = max(channels, min(2, output.channels))
    try:
        sounddevice.check_output_settings(device=index, channels=opened, dtype="float32", samplerate=rate_hz)
    except sounddevice.PortAudioError as error:
        usable = [rate for rate in COMMON_RATES_HZ if _takes(sounddevice, index, opened, rate)]
        listed = ", ".join(map(str, usable)) or "none of the common rates"
        raise DeviceError(
            f"{output.full_name} cannot play {rate_hz} Hz (it takes: {listed}); set it to that rate, or prepare the "
            "passages again with match files --rate"
        ) from error
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
    return stream, {"name": output.full_name, "channels": opened, "latency_s": float(stream.latency)}


def _library() -> Any:
    try:
        import sounddevice
    except OSError as error:  # sounddevice raises this, not ImportError, where PortAudio is not installed
        raise DeviceError(NO_LIBRARY) from error
    return sounddevice


def _listed(sounddevice: Any) -> list[tuple[int, Output]]:
    apis = sounddevice.query_hostapis()
    default = sounddevice.default.device[1]
    if default < 0 and apis:
        default = next((api["default_output_device"] for api in apis if api["default_output_device"] >= 0), -1)
    return [
        (
            place,
            Output(
                name=device["name"],
                host_api=apis[device["hostapi"]]["name"],
                channels=device["max_output_channels"],
                default_rate_hz=round(device["default_samplerate"]),
                default=place == default,
            ),
        )
        for place, device in enumerate(sounddevice.query_devices())
        if device["max_output_channels"] > 0
    ]


def _takes(sounddevice: Any, index: int, channels: int, rate_hz: int) -> bool:
    try:
        sounddevice.check_output_settings(device=index, channels=channels, dtype="float32", samplerate=rate_hz)
    except sounddevice.PortAudioError:
        return False
    return True


def main() -> None:
    """Print the outputs as one JSON line; what `outputs` runs in its child."""
    try:
        answer: dict[str, Any] = {"outputs": [asdict(output) for _, output in _listed(_library())]}
    except DeviceError as error:
        answer = {"error": str(error)}
    sys.stdout.write("\n" + json.dumps(answer) + "\n")


if __name__ == "__main__":
    main()
