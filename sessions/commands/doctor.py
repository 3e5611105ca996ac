"""`doctor`: what this machine can do, and what is wrong with it, in words a musician understands."""

from __future__ import annotations

import time
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from audio.engine import routes
from audio.engine.routes import Route
from audio.errors import DeviceError

from .context import give, json_option, say, table
from .number_types import WholeRange

if TYPE_CHECKING:
    from audio.engine.checkup import Loop
    from audio.engine.recording import Recorder

TONE_HZ, TONE_DBFS, TONE_S = 440.0, -40.0, 1.0
CLOCK_S = 12.0
STILL_WORKS = (
    "still work without it: cataloguing, match files, giveaways, plans, rehearse with a simulated listener, words, "
    "verdict, report, verify"
)


@click.command()
@click.option("--tones", metavar="DEVICE:1,2", help="Play a quiet tone on these channels, one after the other.")
@click.option("--loop", "looped", metavar="DEVICE:1", help="Test a loop (cable or virtual) from this output …")
@click.option("--into", metavar="DEVICE:1", help="… into this input; otherwise the same device and channel number.")
@click.option("--clocks", nargs=2, metavar="DEVICE DEVICE", help="Compare the clocks of two devices.")
@click.option("--rate", type=WholeRange(8000, 192000), help="In Hz; otherwise the device's own.")
@json_option
@click.pass_context
def doctor(
    ctx: click.Context,
    tones: str | None,
    looped: str | None,
    into: str | None,
    clocks: tuple[str, str] | None,
    rate: int | None,
    as_json: bool,
) -> None:
    """List devices, rates, channels and latencies; on request play tones, test a loop, compare clocks.

    Exit status 1 when something is wrong.
    """
    from audio.engine import devices

    document: dict[str, Any] = {"devices": [], "troubles": [], "loop": None, "clocks": None}
    try:
        found = devices.devices()
        for each in found:
            rates = devices.usable_rates(each.full_name, "output" if each.outputs else "input")
            document["devices"].append(asdict(each) | {"rates_hz": rates})
        if not found:
            document["troubles"].append(devices.NO_DEVICE)
    except DeviceError as error:
        document["troubles"].append(str(error))
    if not as_json:
        _list(document["devices"])
    if document["devices"]:
        if tones:
            _tones(routes.parse(tones, "--tones"), rate)
        if looped:
            out = routes.parse(looped, "--loop")
            ear = routes.parse(into, "--into") if into else out
            loop = _loop(ctx.obj.recorder, out, ear, rate)
            document["loop"] = asdict(loop)
            document["troubles"] += loop.words
            if not as_json:
                _tell_loop(loop)
        if clocks:
            document["clocks"] = _clocks(clocks, rate)
            say(f"Clocks: {clocks[0]} against {clocks[1]} {document['clocks']['words']}", as_json)
    for trouble in document["troubles"]:
        say(f"Trouble: {trouble}", as_json)
    if not document["devices"]:
        say(f"{STILL_WORKS[0].upper()}{STILL_WORKS[1:]}.", as_json)
    document["ok"] = not document["troubles"]
    if as_json:
        give(document)
    ctx.exit(0 if document["ok"] else 1)


def _list(devices: list[dict[str, Any]]) -> None:
    if not devices:
        return
    rows = [
        [
            f"{each['name']}, {each['host_api']}",
            f"{each['outputs']}" + (" (default)" if each["default_output"] else ""),
            f"{each['inputs']}" + (" (default)" if each["default_input"] else ""),
            ", ".join(f"{rate / 1000:g}" for rate in each["rates_hz"]) or "none of the common ones",
            f"{1000 * each['output_latency_s']:.0f} / {1000 * each['input_latency_s']:.0f}",
        ]
        for each in devices
    ]
    say(table(["device", "outputs", "inputs", "rates, kHz", "latency out / in, ms"], rows))


def _tones(route: Route, rate: int | None) -> None:
    from audio.engine.player import Player
    from audio.room.tones import tone

    rate_hz = rate or _rate_of(route.device, "output")
    say("A quiet tone on each channel; start with the volume down.", as_json=True)
    for channel in route.channels:
        say(f"  channel {channel + 1} …", as_json=True)
        with Player(route.device, routes=[(channel,)]) as player:
            player.load([tone(TONE_HZ, TONE_DBFS, TONE_S, rate_hz)], rate_hz, [0])
            player.play_through(0)


def _loop(recorder: Recorder, out: Route, ear: Route, rate: int | None) -> Loop:
    from audio.engine import checkup

    return checkup.loop(recorder, out, ear, rate or _rate_of(out.device, "output"))


def _tell_loop(loop: Loop) -> None:
    if not loop.heard:
        return
    kept = "bit for bit what was sent" if loop.bit_exact else f"changed by less than {loop.left_db:.0f} dB of it"
    block = "none ran clean" if loop.smallest_block is None else f"{loop.smallest_block} frames"
    say(
        f"Loop: comes back after {loop.delay_ms:.2f} ms ({loop.delay_frames:.1f} samples), {loop.gain_db:+.2f} dB, "
        f"{kept}; smallest safe block: {block}."
    )


def _clocks(names: tuple[str, str], rate: int | None) -> dict[str, Any]:
    import numpy as np

    from audio.engine import device_clocks
    from audio.engine.player import Player

    found = [device_clocks.DeviceClock(), device_clocks.DeviceClock()]
    rate_hz = rate or _rate_of(names[0], "output")
    quiet = [np.zeros((rate_hz, 2), dtype=np.float32)]
    with Player(names[0]) as one, Player(names[1]) as other:
        for player in (one, other):
            player.load(quiet, rate_hz)
        end = time.monotonic() + CLOCK_S
        while time.monotonic() < end:
            for clock, player in zip(found, (one, other), strict=True):
                clock.add(player.stamp())
            time.sleep(0.01)
    apart = device_clocks.difference(*found)
    if apart is None:
        raise DeviceError("the devices did not run long enough to compare their clocks; try again")
    return {"ppm": apart.ppm, "uncertainty_ppm": apart.uncertainty_ppm, "words": apart.words}


def _rate_of(name: str | None, way: Any) -> int:
    from audio.engine import devices

    return devices.choose(devices.devices(), name, way).default_rate_hz


COMMANDS = {"doctor": doctor}
