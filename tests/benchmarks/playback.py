"""How much of a block the callback takes, how soon a request is heard, how many switches run clean. Run by hand.

    python -m tests.benchmarks.playback [SWITCHES] [realtime]

It starts a JACK dummy server at 48 kHz and at 96 kHz (256 frames, four channels) and switches between two routes;
with `realtime` the server asks for real-time scheduling, as a sound server on a listening machine has.
"""

from __future__ import annotations

import os
import sys
import time

import numpy as np

from audio.engine import fields as at
from audio.engine.player import Player
from tests.jack import Server

PERIOD = 256


def measure(rate_hz: int, switches: int, realtime: bool) -> None:
    server = Server(rate_hz, PERIOD, 4, realtime=realtime)
    os.environ.update(server.environment)
    server.start()
    sounds = [np.full((10 * rate_hz, 2), level, dtype=np.float32) for level in (0.1, 0.2)]
    try:
        with Player(routes=[(0, 1), (2, 3)]) as player:
            player.load(sounds, rate_hz, [0, 1])
            fields = player._fields
            waits, busy = [], []
            last = player.busy()
            turned = 0
            time.sleep(1.0)  # the stream's first blocks are the sound server's affair
            started = player.faults()
            for number in range(switches):
                seen_at, before = int(fields[at.FRAMES]), int(fields[at.APPLIED_AT])
                player.play(number % 2)
                while int(fields[at.SEEN]) != player._wish.serial & 0x3FFFFFFF:
                    time.sleep(0.0005)
                waits.append(int(fields[at.FRAMES]) - seen_at)
                give_up = time.monotonic() + 1
                while int(fields[at.APPLIED_AT]) == before and time.monotonic() < give_up:
                    time.sleep(0.0005)
                turned += int(fields[at.APPLIED_AT]) != before
                now = player.busy()
                if now["blocks"] > last["blocks"]:
                    busy.append((now["busy_ns"] - last["busy_ns"]) / (now["blocks"] - last["blocks"]))
                    last = now
            block_ns = 1e9 * PERIOD / rate_hz
            whole = player.busy()
            underruns = player.faults().underruns - started.underruns
            print(
                f"{rate_hz} Hz, {PERIOD} frames, 4 channels: {turned} of {switches} switches made; "
                f"{underruns} underruns meanwhile ({started.underruns} before, as the stream began); "
                f"callback {100 * np.median(busy) / block_ns:.1f} % of a block (median), "
                f"{100 * whole['worst_ns'] / block_ns:.0f} % (worst); request taken within "
                f"{np.median(waits) / PERIOD:.1f} blocks (median), {max(waits) / PERIOD:.0f} (worst)"
            )
    finally:
        server.stop()


if __name__ == "__main__":
    for rate in (48_000, 96_000):
        measure(rate, int(sys.argv[1]) if len(sys.argv) > 1 else 10_000, "realtime" in sys.argv)
