"""Error rates of "the same performance at the same place", on pieces and families made at random; to run by hand.

    python -m tests.benchmarks.alignment [--passages 200] [--tracks 40] [--seed 1]

Passages (5 to 20 s) are in step and judged by the giveaway alone; tracks (30 to 60 s, with a lead-in, a cut, a loop)
are laid against one another whole. It reports rates and asserts nothing.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audio.alignment import track
from audio.alignment.coherence import coherence
from audio.clip import Clip
from audio.files import writing
from audio.giveaways.performance import performance
from tests import families
from tests.families import RATE_HZ

Samples = NDArray[np.float64]
Change = Callable[[np.random.Generator, Samples], Samples]
SAME: dict[str, Change] = {
    "equaliser": families.equaliser,
    "crossover": families.crossover,
    "room 0.3 s, +0 dB": lambda rng, x: families.room(rng, x, 0.3, 0.0),
    "room 0.8 s, +0 dB": lambda rng, x: families.room(rng, x, 0.8, 0.0),
    "room 0.8 s, -10 dB": lambda rng, x: families.room(rng, x, 0.8, -10.0),
    "compressor 4:1": lambda _, x: families.compressed(x, 4.0),
    "compressor 10:1": lambda _, x: families.compressed(x, 10.0),
    "remaster": families.remastered,
    "equaliser, noise -25 dB": lambda rng, x: families.noisy(rng, families.equaliser(rng, x), 25.0),
}


def main() -> None:
    """Both parts, one line a family."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--passages", type=int, default=200)
    asked.add_argument("--tracks", type=int, default=40)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    passages(options.passages, options.seed)
    tracks(options.tracks, options.seed)


def _piece(rng: np.random.Generator, length_s: float) -> tuple[list[families.Event], Samples]:
    kind = int(rng.integers(0, 4))  # a quarter without drums, a quarter nothing but drums
    events = families.score(rng, length_s, drums=kind != 0, tonal=kind != 1)
    return events, families.played(events, length_s)


def passages(count: int, seed: int) -> None:
    """How often a clean passage is called another performance, and another take or place is not."""
    found: dict[str, list[tuple[bool, float]]] = {}
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        length_s = float(rng.choice([5.0, 10.0, 15.0, 20.0]))
        events, piece = _piece(rng, length_s)
        pairs = {name: (piece, change(rng, piece)) for name, change in SAME.items()}
        pairs["two rooms 0.8 s, -10 dB"] = (
            families.room(rng, piece, 0.8, -10.0),
            families.room(rng, piece, 0.8, -10.0),
        )
        for jitter_ms in (4, 8, 16):
            take = families.played(families.another_take(rng, events, jitter_ms / 1000), length_s)
            pairs[f"other take, {jitter_ms} ms"] = (piece, families.equaliser(rng, take))
        turn = round(float(rng.uniform(1.0, 0.4 * length_s)) * RATE_HZ)
        over = np.concatenate([piece[:turn]] * 10)[: len(piece) + turn]
        voice = [each for each in families.score(rng, length_s + 5) if each.instrument in ("voice", "pluck")]
        song = over + 0.5 * families.played(voice, len(over) / RATE_HZ)[: len(over)]
        pairs["voice over a loop, a turn off"] = (
            song[: len(piece)],
            families.equaliser(rng, song[turn:][: len(piece)]),
        )
        for name, (one, two) in pairs.items():
            clips = [Clip(families.noisy(rng, each), RATE_HZ) for each in (one, two)]
            alike = coherence(clips[0].samples[:, 0], clips[1].samples[:, 0], RATE_HZ)
            found.setdefault(name, []).append((bool(performance("p", "two", clips[0], clips[1], (0, 0))), alike))
    print(f"{'passages':32}  called a giveaway     coherence: least, median, most")
    for name, seen in found.items():
        flagged = sum(each for each, _ in seen)
        likeness = [each for _, each in seen]
        print(
            f"{name:32}  {flagged:4} of {len(seen):4} ({100 * flagged / len(seen):5.1f} %)   "
            f"{min(likeness):5.2f} {np.median(likeness):5.2f} {max(likeness):5.2f}",
            flush=True,
        )


def tracks(count: int, seed: int) -> None:
    """How often whole tracks are laid wrong (by more than 5 ms), asked about, or not found."""
    found: dict[str, list[str]] = {}
    errors: dict[str, list[float]] = {}
    for number in range(count):
        rng = np.random.default_rng([seed, 10_000 + number])
        length_s = float(rng.uniform(30.0, 60.0))
        _, piece = _piece(rng, length_s)
        turn = piece[: round(float(rng.uniform(1.0, 6.0)) * RATE_HZ)]
        pause = np.zeros((RATE_HZ, 2))
        loop = np.concatenate([pause, *[turn] * int(length_s * RATE_HZ / len(turn)), pause])
        lead_s = float(rng.uniform(0.0, 30.0))
        lead = np.zeros((round(lead_s * RATE_HZ), 2))
        cut = round(float(rng.uniform(0.1, 6.0)) * RATE_HZ)
        cases = {
            "lead-in": (piece, np.concatenate([lead, piece]), lead_s),
            "cut": (piece, piece[cut:], -cut / RATE_HZ),
            "loop, lead-in": (loop, np.concatenate([lead, loop]), lead_s),
            "loop, cut, no pause": (
                loop[len(pause) : -len(pause)],
                loop[len(pause) + cut : -len(pause)],
                -cut / RATE_HZ,
            ),
        }
        for what, (one, two, lag_s) in cases.items():
            ways = {"equaliser": SAME["equaliser"], "room 0.8 s, +0 dB": SAME["room 0.8 s, +0 dB"]}
            for how, change in ways.items():
                name = f"{what}, {how}"
                said, error_s = _laid(families.noisy(rng, one), families.noisy(rng, change(rng, two)), lag_s)
                found.setdefault(name, []).append(said)
                errors.setdefault(name, []).append(error_s)
    print(
        f"{'tracks':40}  right  asks (true one shown)  wrong  not found   median error of the right, us; "
        "largest of the wrong, ms"
    )
    for name, seen in found.items():
        counts = [seen.count(each) for each in ("right", "asks", "asks without it", "wrong", "not found")]
        good = [error for error, each in zip(errors[name], seen, strict=True) if each == "right"]
        bad = [error for error, each in zip(errors[name], seen, strict=True) if each == "wrong"]
        print(
            f"{name:40}  {counts[0]:5}  {counts[1] + counts[2]:5} ({counts[1]})  {counts[3]:15}  {counts[4]:9}   "
            f"{1e6 * float(np.median(good)) if good else float('nan'):.0f}; {1e3 * max(bad, default=0.0):.1f}",
            flush=True,
        )


def _laid(one: Samples, two: Samples, lag_s: float) -> tuple[str, float]:
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / name for name in ("one.wav", "two.wav")]
        for path, samples in zip(paths, (one, two), strict=True):
            writing.write(path, Clip(samples, RATE_HZ), subtype="FLOAT")
        laid = track.align_files(paths[0], paths[1])
    if laid is None or not laid.found:
        return "not found", float("nan")
    error_s = abs(laid.best.lag_s - lag_s)
    if laid.ambiguous and laid.next_best is not None:
        shown = min(error_s, abs(laid.next_best.lag_s - lag_s)) < 0.005
        return ("asks" if shown else "asks without it"), error_s
    return ("right" if error_s < 0.005 else "wrong"), error_s


if __name__ == "__main__":
    main()
