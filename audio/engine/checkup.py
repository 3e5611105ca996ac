"""What a loop tells of a device: round-trip delay, bits kept or changed, drift, the smallest safe block.

A loop is a cable (or a virtual wire) from an output to an input. A digital loop gives back the very samples; an
analogue one gives them back with a gain, a delay and noise; processing in between gives back something else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..alignment.correlation import arrival
from ..alignment.delay import align
from .recording import Recorder, record_undisturbed
from .routes import Route

PROBE_S = 2.0
PROBE_DBFS = -20.0
BLOCKS = (32, 64, 128, 256, 512, 1024, 2048)
BLOCK_S = 1.5
HEARD_DB = -60.0  # a loop below this is no loop
CLEAN_DB = -40.0  # what is left after gain and delay, against the signal; a resampler or an effect leaves more
STEADY_FRAMES = 0.5
LINEAR_DB = 0.2
STEP_DB = 20.0


@dataclass(frozen=True)
class Loop:
    """What a loop showed. Levels in dB; `left_db` is what remains beyond gain and delay, against the signal.

    `smallest_block` is None where no block size ran without stumbling, `words` says what is wrong, one line a trouble.
    """

    heard: bool
    delay_frames: float
    delay_ms: float
    gain_db: float
    bit_exact: bool
    left_db: float
    drift_frames: float
    step_db: float
    smallest_block: int | None
    words: tuple[str, ...]


def loop(recorder: Recorder, out: Route, source: Route, rate_hz: int) -> Loop:
    """Measure a loop from the first channel of a route into the first input of another.

    Raises
    ------
    DeviceError
        If a device is absent or unsuitable.
    """
    one, ear = Route(out.device, out.channels[:1]), Route(source.device, source.channels[:1])
    sent = probe(rate_hz)
    heard = record_undisturbed(recorder, sent, one, ear, rate_hz).samples[:, ear.channels[0]]
    block = smallest_block(recorder, one, ear, rate_hz)
    return judge(sent[:, 0], heard, rate_hz, block)


def probe(rate_hz: int) -> NDArray[np.float32]:
    """White noise with soft ends, in whole 24-bit steps, first loud, then `STEP_DB` softer; shape (frames, 1)."""
    frames = round(PROBE_S * rate_hz)
    noise = np.random.default_rng(20_260_101).uniform(-1, 1, frames)
    ramp = round(0.05 * rate_hz)
    noise[:ramp] *= np.linspace(0, 1, ramp)
    noise[-ramp:] *= np.linspace(1, 0, ramp)
    both = np.concatenate([noise, noise * 10 ** (-STEP_DB / 20)]) * 10 ** (PROBE_DBFS / 20)
    return (np.round(both * 2**23) / 2**23).astype(np.float32)[:, None]


def judge(sent: NDArray[np.floating], heard: NDArray[np.floating], rate_hz: int, block: int | None) -> Loop:
    """What a recording of the probe says; both of shape (frames,)."""
    half = sent.size // 2
    first, second = sent[:half], sent[half:]
    delay = arrival(first, heard)
    exact = heard[delay : delay + sent.size]
    gain = _gain(first, heard[delay : delay + half])
    gain_db = 20 * float(np.log10(max(abs(gain), 1e-9)))
    if gain_db < HEARD_DB:
        silent = ("nothing of the signal comes back: is the loop plugged in, and are the channels right?",)
        return Loop(False, 0.0, 0.0, gain_db, False, 0.0, 0.0, 0.0, block, silent)
    bit_exact = bool(exact.size == sent.size and np.array_equal(exact.astype(np.float32), sent.astype(np.float32)))
    left_db = _left_db(first, heard[delay : delay + half], gain)
    early, late = (_fine_delay(part, heard, start, delay, rate_hz) for part, start in _parts(first))
    later_gain = _gain(second, heard[delay + half : delay + 2 * half])
    step_db = STEP_DB + 20 * float(np.log10(max(abs(gain), 1e-9) / max(abs(later_gain), 1e-9)))
    found = Loop(
        heard=True,
        delay_frames=early,
        delay_ms=1000 * early / rate_hz,
        gain_db=gain_db,
        bit_exact=bit_exact,
        left_db=left_db,
        drift_frames=late - early,
        step_db=step_db,
        smallest_block=block,
        words=(),
    )
    return Loop(**{**found.__dict__, "words": tuple(_troubles(found, gain))})


def smallest_block(recorder: Recorder, out: Route, source: Route, rate_hz: int) -> int | None:
    """The smallest block that runs without stumbling, tried from large to small; None if none does."""
    quiet = np.zeros((round(BLOCK_S * rate_hz), 1), dtype=np.float32)
    smallest = None
    for block in reversed(BLOCKS):
        tries = (
            recorder.record(quiet, out, source, rate_hz, latency_s=2 * block / rate_hz, block=block) for _ in range(2)
        )
        if not any(each.clean for each in tries):  # a stumble while a stream starts is no verdict on its blocks
            break
        smallest = block
    return smallest


def _troubles(found: Loop, gain: float) -> list[str]:
    """What is wrong, in words a musician understands."""
    words = []
    if gain < 0:
        words.append("the polarity is turned on the way; one plug or setting swaps plus and minus")
    if abs(found.drift_frames) > STEADY_FRAMES:
        words.append(
            f"the recording slips by {found.drift_frames:+.1f} samples in {PROBE_S:g} s: something converts the sample "
            "rate, or two devices run on clocks of their own; set everything to one rate and one clock"
        )
    if abs(found.step_db - STEP_DB) > LINEAR_DB:
        words.append(
            f"a step of {STEP_DB:g} dB came back as {found.step_db:.1f} dB: an automatic gain, limiter or effect is "
            "on; switch it off in the sound settings"
        )
    if not found.bit_exact and found.left_db > CLEAN_DB:
        words.append(
            f"the sound is changed on the way (what is left over stands {found.left_db:.0f} dB against it): an "
            "equaliser, effect, resampler or a noisy input; switch enhancements off, set the system to this rate"
        )
    if found.smallest_block is None:
        words.append("no block size runs without clicks here; close other programs or ask for a larger buffer")
    return words


def _gain(sent: NDArray[np.floating], heard: NDArray[np.floating]) -> float:
    length = min(sent.size, heard.size)
    one, other = sent[:length].astype(np.float64), heard[:length].astype(np.float64)
    return float(one @ other / (one @ one))


def _left_db(sent: NDArray[np.floating], heard: NDArray[np.floating], gain: float) -> float:
    """What no gain explains, against the signal; an analogue way's own delay of a part of a sample is allowed for."""
    length = min(sent.size, heard.size)
    one, other = sent[:length].astype(np.float64), heard[:length].astype(np.float64)
    columns = np.stack([np.roll(one, shift) for shift in range(-8, 9)], axis=1)  # a short filter: a fraction's delay
    fitted, *_ = np.linalg.lstsq(columns, other, rcond=None)
    left = float(np.mean(np.square(other - columns @ fitted)))
    return 10 * float(np.log10(max(left, 1e-30) / float(np.mean(np.square(gain * one)))))


def _parts(sent: NDArray[np.floating]) -> list[tuple[NDArray[np.floating], int]]:
    quarter = sent.size // 4
    return [(sent[quarter // 2 : quarter + quarter // 2], quarter // 2), (sent[-quarter:], sent.size - quarter)]


def _fine_delay(part: NDArray[np.floating], heard: NDArray[np.floating], start: int, delay: int, rate_hz: int) -> float:
    """The delay of one part to a fraction of a sample, near the delay of the whole."""
    begin = max(start + delay - 64, 0)
    near = heard[begin : begin + part.size + 128].astype(np.float64)
    found = align(part.astype(np.float64), near, rate_hz, (start + delay - begin) / rate_hz, 0.002)
    return float(delay) if found is None else begin - start + found.delay_s * rate_hz
