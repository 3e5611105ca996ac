"""A JACK dummy server for tests: a real-time clock without hardware, and a recorder of what is played into it."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

RECORDER = """
import sys
import numpy as np, sounddevice
seconds, rate, channels, out = float(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
held = np.zeros((int(seconds * rate) + 65536, channels), dtype=np.float32)
state = {"n": 0, "over": 0}
def take(block, frames, when, status):
    n = state["n"]
    if n + frames <= len(held):
        held[n : n + frames] = block
        state["n"] = n + frames
    state["over"] += bool(status.input_overflow)
with sounddevice.InputStream(channels=channels, samplerate=rate, dtype="float32", callback=take, latency=0.2):
    print("recording", flush=True)
    sys.stdin.readline()
np.save(out, held[: state["n"]])
print(state["over"], flush=True)
"""


# A clock that shares the machine with a test suite: ask for precedence, where that is allowed.
NICE = ["nice", "-n", "-15"] if os.geteuid() == 0 else []


class Server:
    """A JACK dummy server with its own name, so that tests cannot meet another."""

    def __init__(self, rate_hz: int = 48_000, period: int = 1024, channels: int = 4, *, realtime: bool = False) -> None:
        self.name = f"earwitness-test-{os.getpid()}-{rate_hz}"
        self.rate_hz, self.period, self.channels = rate_hz, period, channels
        self._priority = ["-R", "-P", "40"] if realtime else ["-r"]
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def environment(self) -> dict[str, str]:
        """What a client must find in its environment to meet this server."""
        return {"JACK_DEFAULT_SERVER": self.name, "JACK_NO_AUDIO_RESERVATION": "1", "JACK_NO_START_SERVER": "1"}

    def start(self) -> None:
        """Start the server and wait until it answers."""
        clear_registry()
        command = [
            *NICE,
            "jackd",
            "-n",
            self.name,
            *self._priority,
            "-d",
            "dummy",
            "-r",
            str(self.rate_hz),
            "-p",
            str(self.period),
        ]
        command += ["-C", str(self.channels), "-P", str(self.channels)]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        give_up = time.monotonic() + 15
        while not self.ports():
            assert self._process.poll() is None, "jackd ended at once"
            assert time.monotonic() < give_up, "jackd did not answer"
            time.sleep(0.05)

    def kill(self) -> None:
        """End the server without a word to its clients, and clear what it left."""
        assert self._process is not None
        self._process.kill()
        self._process.wait()
        for left in [*Path("/dev/shm").glob(f"*{self.name}*"), *Path("/tmp").glob(f"*{self.name}*")]:
            subprocess.run(["rm", "-rf", str(left)], check=False)

    def stop(self) -> None:
        """End the server in order."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            try:
                self._process.wait(1)
            except subprocess.TimeoutExpired:
                self.kill()

    def ports(self) -> list[str]:
        """The ports of all clients."""
        done = subprocess.run(
            ["jack_lsp"], env=os.environ | self.environment, capture_output=True, text=True, timeout=10, check=False
        )
        return done.stdout.split() if done.returncode == 0 else []

    def connect(self, output: str, target: str) -> None:
        """Lead an output port into an input port."""
        subprocess.run(
            ["jack_connect", output, target],
            env=os.environ | self.environment,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=10,
        )

    def client_ports(self, kind: str) -> list[str]:
        """Ports of PortAudio clients: ``out_`` what they play, ``in_`` what they record."""
        return [port for port in self.ports() if port.startswith("PortAudio") and port.split(":")[1].startswith(kind)]


def clear_registry() -> None:
    """Take away what killed servers left in JACK's list (it holds eight), unless some server still runs."""
    if subprocess.run(["pgrep", "-x", "jackd"], capture_output=True, check=False).returncode != 0:
        for left in Path("/dev/shm").glob("jack[-_]*"):
            if left.is_file():
                left.unlink(missing_ok=True)


class Recording:
    """What a recorder heard; `samples` is there after the `record` block, shape (frames, channels)."""

    def __init__(self) -> None:
        self.samples = np.zeros((0, 0), dtype=np.float32)
        self.overflows = 0


@contextmanager
def record(server: Server, channels: int = 2, seconds: float = 20.0) -> Iterator[Recording]:
    """Record what PortAudio's playing client sends, from the connection on until the block ends.

    The player must be open already. The recorder runs in a process of its own.
    """
    playing = server.client_ports("out_")
    assert len(playing) >= channels, f"nobody plays here: {server.ports()}"
    recording = Recording()
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "heard.npy"
        command = [*NICE, sys.executable, "-c", RECORDER, str(seconds), str(server.rate_hz), str(channels), str(out)]
        recorder = subprocess.Popen(
            command,
            env=os.environ | server.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert recorder.stdout is not None
        assert recorder.stdin is not None
        assert recorder.stdout.readline().strip() == "recording"
        ears = server.client_ports("in_")
        for source, ear in zip(playing[:channels], ears[:channels], strict=True):
            disconnect = ["jack_disconnect", f"system:capture_{ears.index(ear) + 1}", ear]
            subprocess.run(disconnect, env=os.environ | server.environment, check=False, capture_output=True)
            server.connect(source, ear)
        yield recording
        time.sleep(0.4)  # what was asked for last is still on its way
        answer, _ = recorder.communicate("stop\n", timeout=30)
        recording.overflows = int(answer.split()[-1])
        recording.samples = np.load(out)
