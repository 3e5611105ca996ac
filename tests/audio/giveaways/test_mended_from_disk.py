"""From files on disk: what is found is repaired by what is proposed, and then nothing is found."""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import BSpline, make_interp_spline
from scipy.signal import resample_poly

from audio.clip import Clip
from audio.files import reading, writing
from audio.giveaways import inspection
from audio.giveaways.findings import Finding
from audio.giveaways.repair import propose
from audio.giveaways.wiring import wiring
from audio.levels.weighting import level_db
from audio.mend import Mend, read_mended
from demo_tracks import loudspeakers, tracks

RATE_HZ = 48_000
START, FRAMES = RATE_HZ, 4 * RATE_HZ


@functools.cache
def played(piece: str, name: str, frames: int) -> BSpline:
    """A demo track through a demo loudspeaker between its samples, four places a sample, a second of silence first."""
    music = reading.read(tracks.path(piece), 0, frames).samples
    sound = loudspeakers.render(name, np.pad(music, ((RATE_HZ, RATE_HZ), (0, 0))), RATE_HZ)
    fine = resample_poly(sound, 4, 1, axis=0)
    return make_interp_spline(np.arange(len(fine)), fine, k=3)


def recorded(path: Path, piece: str, name: str, *, delay_s: float, ppm: float, turned: bool, rate_hz: int) -> None:
    """A demo track through a demo loudspeaker, as a recorder holds it that is late, off its clock, turned round."""
    frames = 6 * RATE_HZ
    instants_s = np.arange(frames * rate_hz // RATE_HZ) / (rate_hz * (1 + 1e-6 * ppm)) - delay_s + 1
    held = played(piece, name, frames)(instants_s * 4 * RATE_HZ)
    writing.write(path, Clip(-held if turned else held, rate_hz), seed=3)


def cut(paths: dict[str, Path], mends: dict[str, Mend]) -> dict[str, Clip]:
    return {name: read_mended(path, START, FRAMES, RATE_HZ, RATE_HZ, mends.get(name)) for name, path in paths.items()}


def inspected(paths: dict[str, Path], mends: dict[str, Mend], *, fine: bool = False) -> list[Finding]:
    clips = cut(paths, mends)
    reference = level_db(next(iter(clips.values())), "bs1770")
    assert reference is not None
    for name, clip in clips.items():
        clips[name] = Clip(clip.samples * 10 ** ((reference - (level_db(clip, "bs1770") or 0.0)) / 20), clip.rate_hz)
    infos = {name: reading.inspect(path) for name, path in paths.items()}
    brought = {name: mend.rate_hz for name, mend in mends.items() if mend.rate_hz}
    return inspection.inspect("p", clips, infos, rates_hz=brought, fine=fine)


@pytest.mark.parametrize(
    ("piece", "delay_s", "ppm", "turned", "rate_hz", "kinds"),
    [
        ("drums", 0.0123456, 0.0, False, 48_000, {"onset"}),
        ("voice", -0.2, 0.0, True, 48_000, {"onset", "polarity"}),
        ("drums", 0.0, 300.0, False, 48_000, {"drift"}),
        ("drums", 0.031, -650.0, True, 44_100, {"onset", "drift", "polarity", "format"}),
        ("voice", 0.031, -650.0, True, 44_100, {"onset", "drift", "polarity", "format"}),
        ("voice", 0.0034, 150.0, True, 44_100, {"onset", "drift", "polarity", "format"}),
    ],
)
def test_after_mending_nothing_is_found(
    tmp_path: Path, piece: str, delay_s: float, ppm: float, turned: bool, rate_hz: int, kinds: set[str]
) -> None:
    paths = {"sallow": tmp_path / "a.wav", "bracken": tmp_path / "b.wav"}
    recorded(paths["sallow"], piece, "sallow", delay_s=0.0, ppm=0.0, turned=False, rate_hz=RATE_HZ)
    recorded(paths["bracken"], piece, "bracken", delay_s=delay_s, ppm=ppm, turned=turned, rate_hz=rate_hz)
    found = inspected(paths, {})
    assert kinds <= {each.kind for each in found} <= kinds | {"onset"}  # drift up to the passage is an onset there
    mends = propose(found, polarity=True)
    assert set(mends) == {"bracken"}
    assert mends["bracken"].invert == turned
    assert mends["bracken"].stretch_ppm == pytest.approx(ppm, abs=3)
    late = "onset" in {each.kind for each in found}  # else the drift gathered little before the passage
    if late:
        # the delay grows from the file's start, so at the passage's start there is more of it
        assert mends["bracken"].delay_s == pytest.approx(delay_s + 1e-6 * ppm * START / RATE_HZ, abs=5e-5)
    assert mends["bracken"].rate_hz == (RATE_HZ if rate_hz != RATE_HZ else None)
    clips = cut(paths, mends)
    assert inspected(paths, mends) == []
    left = wiring(*clips.values())
    assert left is not None
    assert left.correlation > 0.9
    assert abs(left.delay_s * RATE_HZ) < (0.3 if late else 48)


def test_three_setups_are_mended_each_by_its_own(tmp_path: Path) -> None:
    paths = {"sallow": tmp_path / "a.wav", "bracken": tmp_path / "b.wav", "sallow-late": tmp_path / "c.wav"}
    for name, delay_s in (("sallow", 0.0), ("bracken", 0.004), ("sallow-late", -0.006)):
        recorded(paths[name], "strings", name, delay_s=delay_s, ppm=0.0, turned=False, rate_hz=RATE_HZ)
    found = inspected(paths, {})
    assert [(each.setup, each.against, each.kind) for each in found] == [
        ("bracken", "sallow", "onset"),
        ("sallow-late", "sallow", "onset"),
        ("sallow-late", "bracken", "onset"),
    ]
    mends = propose(inspected(paths, {}, fine=True))
    assert mends["bracken"].delay_s == pytest.approx(0.004, abs=1e-4)
    assert mends["sallow-late"].delay_s == pytest.approx(-0.006, abs=1e-4)
    assert inspected(paths, mends) == []


def test_polarity_is_mended_on_request_only() -> None:
    turned = Finding("polarity", "two", "p", -1.0, -0.3, "correlation", "s", "w", Mend(invert=True))
    late = Finding("onset", "two", "p", 5.0, 1.0, "ms", "s", "w", Mend(delay_s=0.005))
    loud = Finding("level", "three", "p", 5.0, 0.1, "LU", "s", "w")
    assert propose([turned, late, loud]) == {"two": Mend(delay_s=0.005)}
    assert propose([turned, late, loud], polarity=True) == {"two": Mend(delay_s=0.005, invert=True)}
    assert propose([turned, loud]) == {}


def test_a_high_pass_is_for_all_setups_alike() -> None:
    off = Finding("dc", "two", "p", -50.0, -60.0, "dBFS", "s", "w", Mend(high_pass_hz=10.0))
    late = Finding("onset", "three", "p", 5.0, 1.0, "ms", "s", "w", Mend(delay_s=0.005))
    alike = Mend(high_pass_hz=10.0)
    assert propose([off, late], setups=("one", "two", "three")) == {
        "one": alike,
        "two": alike,
        "three": Mend(delay_s=0.005, high_pass_hz=10.0),
    }
    assert propose([late], setups=("one", "two", "three")) == {"three": Mend(delay_s=0.005)}


def test_an_offset_is_gone_after_mending(tmp_path: Path) -> None:
    paths = {"sallow": tmp_path / "a.wav", "off": tmp_path / "b.wav"}
    for name in paths:
        recorded(paths[name], "drums", "sallow", delay_s=0.0, ppm=0.0, turned=False, rate_hz=RATE_HZ)
    shifted = reading.read(paths["off"])
    writing.write(paths["off"], Clip(shifted.samples + 0.01, RATE_HZ), seed=4)
    found = inspected(paths, {})
    assert [each.kind for each in found] == ["dc"]
    mends = propose(found, setups=list(paths))
    assert set(mends) == set(paths)
    assert inspected(paths, mends) == []
