"""An imaginary room for tests: a JACK client between loudspeakers and microphones, in a process of its own.

PortAudio lists it as a device called ``room``: what is played on its channels is heard at its inputs, with a level, a
delay and a response of its own for every channel, and noise.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import asdict, dataclass, field
from types import TracebackType

from .jack import NICE, Server

PROGRAM = """
import json, sys
import jack, numpy as np
from scipy.signal import lfilter, lfilter_zi, butter

wish = json.loads(sys.argv[1])
client = jack.Client("room", servername=wish["server"], no_start_server=True)
speakers = [client.inports.register(f"speaker_{n + 1}") for n in range(len(wish["speakers"]))]
mics = [client.outports.register(f"mic_{n + 1}") for n in range(wish["mics"])]
rate, rng = client.samplerate, np.random.default_rng(wish["seed"])
hiss = 10 ** (wish["noise_dbfs"] / 20) if wish["noise_dbfs"] > -300 else 0.0
tone = 10 ** (wish["tone_dbfs"] / 20) * 2**0.5 if wish["tone_dbfs"] > -300 else 0.0
noise = (hiss * rng.standard_normal(8 * rate)).astype(np.float32)
noise += (tone * np.sin(2 * np.pi * 1000 * np.arange(8 * rate) / rate)).astype(np.float32)
state = {"place": 0, "agc": 1.0}
paths = []
for speaker in wish["speakers"]:
    taps = np.zeros(1 + round(speaker["delay_ms"] * rate / 1000))
    taps[-1] = 10 ** (speaker["gain_db"] / 20)
    b, a = ([1.0], [1.0]) if not speaker["low_cut_hz"] else butter(2, speaker["low_cut_hz"], "high", fs=rate)
    paths.append({"b": np.convolve(taps, b), "a": np.array(a), "z": np.zeros(max(taps.size + len(b) - 1, len(a)) - 1)})

def work(frames):
    total = np.zeros(frames)
    for port, path in zip(speakers, paths):
        heard, path["z"] = lfilter(path["b"], path["a"], port.get_array(), zi=path["z"])
        total += heard
    places = (state["place"] + np.arange(frames)) % noise.size
    state["place"] += frames
    total += noise[places]
    if wish["agc"]:
        power = float(np.mean(total ** 2)) + 1e-12
        state["agc"] += 0.2 * (min(3.0, 0.002 / power ** 0.5) - state["agc"])
        total *= state["agc"]
    for number, port in enumerate(mics):
        port.get_array()[:] = np.clip(total * 10 ** (wish["mic_gain_db"] / 20), -1, 1) if number == wish["at"] else (
            noise[places] * 0.1 if wish["others"] else 0)

client.set_process_callback(work)
client.activate()
print("up", flush=True)
sys.stdin.readline()
"""


@dataclass
class Speaker:
    """What one channel's way to the microphone does; `low_cut_hz` 0 for a flat response."""

    gain_db: float = -20.0
    delay_ms: float = 3.0
    low_cut_hz: float = 0.0


@dataclass
class Room:
    """The room as a context manager; one speaker for each channel."""

    server: Server
    speakers: list[Speaker]
    mics: int = 2
    at: int = 0
    noise_dbfs: float = -80.0
    tone_dbfs: float = -400.0  # a calibrator's, RMS
    mic_gain_db: float = 0.0
    agc: bool = False
    others: bool = True
    seed: int = 1
    _process: subprocess.Popen[str] | None = field(default=None, repr=False)

    def __enter__(self) -> Room:
        wish = {
            "server": self.server.name,
            "speakers": [asdict(speaker) for speaker in self.speakers],
            "mics": self.mics,
            "at": self.at,
            "noise_dbfs": self.noise_dbfs,
            "tone_dbfs": self.tone_dbfs,
            "mic_gain_db": self.mic_gain_db,
            "agc": self.agc,
            "others": self.others,
            "seed": self.seed,
        }
        self._process = subprocess.Popen(
            [*NICE, sys.executable, "-c", PROGRAM, json.dumps(wish)],
            env=os.environ | self.server.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline().strip() == "up"
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._process is not None
        self._process.communicate("stop\n", timeout=10)
