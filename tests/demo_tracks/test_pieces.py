"""The five pieces as they lie in the package: their format, their make-up, and that the script rebuilds them."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
import soxr

from demo_tracks import make
from demo_tracks.loudspeakers import LOUDSPEAKERS, render
from demo_tracks.tracks import TRACKS, path

NAMES = [track.name for track in TRACKS]
PACKAGE = Path(make.__file__).parent
# IEC 61260-1: exact mid-band frequencies 1000 Hz · 10^(n/10), band edges a factor 10^(1/20) to either side.
# n = −14 is the nominal 40 Hz, n = 12 the nominal 16 kHz.
BANDS = np.arange(-14, 13)


def decoded(file: Path) -> np.ndarray:
    whole, rate_hz = soundfile.read(file, dtype="int32", always_2d=True)
    assert rate_hz == 48_000
    assert not (whole & 0xFF).any()  # the lowest byte of the 32-bit container is unused by 24-bit samples
    return whole >> 8


def played(name: str) -> np.ndarray:
    return decoded(path(name)) / 2.0**23


def third_octaves_db(samples: np.ndarray) -> np.ndarray:
    power = (np.abs(np.fft.rfft(samples, axis=0)) ** 2).sum(axis=1)
    frequencies = np.fft.rfftfreq(len(samples), 1 / 48_000)
    centres = 1000.0 * 10.0 ** (BANDS / 10)
    edge = 10.0**0.05
    inside = [(frequencies >= c / edge) & (frequencies < c * edge) for c in centres]
    return 10.0 * np.log10([power[band].sum() for band in inside])


@pytest.fixture(scope="session")
def rebuilt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rebuilt")
    subprocess.run([sys.executable, PACKAGE / "make.py", folder], check=True, capture_output=True, timeout=300)
    return folder


def test_there_are_at_least_five_pieces_under_eight_megabytes_together() -> None:
    assert len(TRACKS) >= 5
    assert len({track.name for track in TRACKS}) == len(TRACKS)
    assert len({track.title for track in TRACKS}) == len(TRACKS)
    assert sum(path(name).stat().st_size for name in NAMES) < 8_000_000


@pytest.mark.parametrize("name", NAMES)
def test_a_piece_is_12_to_20_s_of_24_bit_stereo_at_48_khz(name: str) -> None:
    info = soundfile.info(path(name))
    assert (info.format, info.subtype, info.samplerate, info.channels) == ("FLAC", "PCM_24", 48_000, 2)
    assert 12.0 <= info.frames / info.samplerate <= 20.0


@pytest.mark.parametrize("name", NAMES)
def test_the_script_rebuilds_a_piece_bit_for_bit(name: str, rebuilt: Path) -> None:
    np.testing.assert_array_equal(decoded(rebuilt / f"{name}.flac"), decoded(path(name)))


@pytest.mark.parametrize("name", NAMES)
def test_the_low_byte_of_a_piece_carries_sound(name: str) -> None:
    # A 16-bit recording padded to 24 would show one value only; sound at 24 bits uses them all, evenly.
    whole = decoded(path(name))
    counts = np.bincount((whole[np.abs(whole).max(axis=1) > 1 << 12] & 0xFF).ravel(), minlength=256)
    assert counts.min() > 0.8 * counts.mean()


@pytest.mark.parametrize("name", NAMES)
def test_the_two_channels_of_a_piece_differ_but_belong_together(name: str) -> None:
    left, right = played(name).T
    side_db = 10.0 * np.log10(np.mean((left - right) ** 2) / np.mean((left + right) ** 2))
    assert -40.0 < side_db < -6.0


@pytest.mark.parametrize("name", NAMES)
def test_a_piece_sits_at_a_calm_loudness_with_room_above(name: str) -> None:
    samples = played(name)
    # ITU-R BS.1770 by an outside library; −23 LUFS is the target of EBU R 128, ours lie a little below.
    assert -27.0 < pyloudnorm.Meter(48_000).integrated_loudness(samples) < -23.0
    # True peak as in ITU-R BS.1770 annex 2: the peak after oversampling, here by eight.
    assert 20.0 * np.log10(np.abs(soxr.resample(samples, 48_000, 384_000, "VHQ")).max()) < -3.0


@pytest.mark.parametrize("name", NAMES)
def test_a_piece_begins_and_ends_at_rest_and_has_no_offset(name: str) -> None:
    samples = played(name)
    assert np.abs(samples[[0, -1]]).max() <= 2.0**-23
    # Nothing above −60 dBFS in the first and last 5 ms, so that a loop has no click.
    assert np.abs(samples[:240]).max() < 1e-3
    assert np.abs(samples[-240:]).max() < 1e-3
    assert np.abs(samples.mean(axis=0)).max() < 1e-6  # −120 dBFS


def test_some_piece_reaches_every_third_octave_from_40_hz_to_16_khz() -> None:
    reach = {name: third_octaves_db(played(name)) for name in NAMES}
    lowest = {name: float((levels - levels.max()).min()) for name, levels in reach.items()}
    assert max(lowest.values()) > -50.0, lowest


def test_every_third_octave_is_strong_in_some_piece() -> None:
    relative = [levels - levels.max() for levels in (third_octaves_db(played(name)) for name in NAMES)]
    assert np.max(relative, axis=0).min() > -30.0


def test_the_drums_stop_for_pauses_that_are_quiet_but_never_digitally_silent() -> None:
    samples = played("drums")
    loud = np.flatnonzero(np.abs(samples).max(axis=1) >= 1e-3)  # −60 dBFS
    lengths = np.diff(loud)
    pauses = [(loud[i] + 1, loud[i + 1]) for i in np.flatnonzero(lengths > 0.3 * 48_000)]
    assert len(pauses) >= 2
    for start, stop in pauses:
        still = samples[start:stop]
        # No 1 ms of zeros anywhere: a noise floor can be read from it.
        blocks = still[: len(still) // 48 * 48].reshape(-1, 48, 2)
        assert np.abs(blocks).max(axis=1).min() > 0.0
        end_db = 10.0 * np.log10(np.mean(still[-7200:] ** 2))
        assert -100.0 < end_db < -75.0


@pytest.mark.parametrize("loudspeaker", LOUDSPEAKERS)
@pytest.mark.parametrize("name", NAMES)
def test_no_rendering_of_a_piece_comes_near_full_scale(name: str, loudspeaker: str) -> None:
    assert np.abs(render(loudspeaker, played(name), 48_000)).max() < 10.0 ** (-1.0 / 20.0)


def test_a_piece_that_does_not_exist_is_named_in_the_refusal() -> None:
    with pytest.raises(ValueError, match="no demo track 'organ'; there are strings, drums"):
        path("organ")
    with pytest.raises(ValueError, match="no piece 'organ'; there are strings, drums"):
        make.samples("organ")


def test_a_piece_that_would_clip_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from demo_tracks import texture

    monkeypatch.setattr(texture, "play", lambda: np.full((10, 2), 1.0))
    with pytest.raises(ValueError, match="'texture' would clip"):
        make.samples("texture")


def test_the_package_finds_its_pieces_wherever_it_is_installed(tmp_path: Path) -> None:
    shutil.copytree(PACKAGE, tmp_path / "site" / "demo_tracks", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "site" / "demo_tracks" / "voice.flac").unlink()
    script = (
        "from demo_tracks.tracks import TRACKS, path\n"
        "for track in TRACKS:\n"
        "    try: print(path(track.name))\n"
        "    except FileNotFoundError as error: print(error)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(tmp_path / "site")}
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, env=environment, check=True, capture_output=True, text=True
    )
    lines = done.stdout.splitlines()
    site = tmp_path / "site" / "demo_tracks"
    assert [line for line in lines if line == str(site / "drums.flac")]
    assert "the demo track 'voice' is missing at" in lines[NAMES.index("voice")]


def test_naming_tracks_and_loudspeakers_loads_no_heavy_library() -> None:
    script = (
        "import sys, demo_tracks.tracks, demo_tracks.loudspeakers, demo_tracks.make\n"
        "print(sorted({'scipy', 'soundfile', 'soxr', 'pyloudnorm'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=PACKAGE.parent, check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"
