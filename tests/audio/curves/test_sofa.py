"""Sets by direction as the conventions of AES69 write them, with truth planted: who moves, which side, which order."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import sofa
from audio.errors import FileError

from .sofa_files import AZIMUTH, HZ, RATE_HZ, around, impulses, louder_left, write


def test_microphones_around_a_source_are_its_directions(tmp_path: Path) -> None:
    """Two measurements (two notes): the second twice as loud; the source faces to the left of the room."""
    levels = louder_left(AZIMUTH)
    real = np.stack([levels, 2 * levels])[:, :, None] * np.ones(3)
    path = write(
        tmp_path / "d.sofa", "FreeFieldDirectivityTF", Data_Real=real, Data_Imag=0 * real, N=HZ,
        ReceiverPosition=around(AZIMUTH + 90, 2.0)[:, :, None], SourceView=np.array([[0.0, 1.0, 0.0]]),
        SourceUp=np.array([[0.0, 0.0, 1.0]]),
    )  # fmt: skip
    found = sofa.read_sofa(path)
    assert (found.channels, found.data.shape, found.rate_hz) == ("measurements", (36, 2, 3), 0)
    assert found.hz is not None
    assert found.hz.tolist() == HZ.tolist()
    for azimuth, level in ((90, 10 ** (6 / 20)), (0, 1.0), (-30, 10 ** (-3 / 20))):
        assert np.abs(found.data[found.nearest(azimuth)]) == pytest.approx(np.array([[level] * 3, [2 * level] * 3]))


def test_sources_around_a_listener_are_heard_where_they_stand(tmp_path: Path) -> None:
    real = np.stack([louder_left(AZIMUTH), louder_left(-AZIMUTH)], axis=1)[:, :, None] * np.ones(3)
    spherical = np.stack([AZIMUTH % 360, 0 * AZIMUTH, 0 * AZIMUTH + 1.5], axis=1)
    path = write(
        tmp_path / "h.sofa", "SimpleFreeFieldHRTF", Data_Real=real, Data_Imag=0 * real, N=HZ,
        SourcePosition=spherical, ReceiverPosition=np.array([[0, 0.09, 0], [0, -0.09, 0]])[:, :, None],
        kinds={"SourcePosition": "spherical"},
    )  # fmt: skip
    found = sofa.read_sofa(path)
    left, right = np.abs(found.data[found.nearest(90), :, 0])
    assert (left, right) == (pytest.approx(10 ** (6 / 20)), pytest.approx(10 ** (-6 / 20)))


def test_a_source_on_a_turntable_is_heard_from_where_it_turned_away_from(tmp_path: Path) -> None:
    """Turned 30° counter-clockwise, the microphone in front of it stands at its right: azimuth -30."""
    path = write(
        tmp_path / "t.sofa", "GeneralFIR", Data_IR=impulses(louder_left(-AZIMUTH))[:, None, :],
        Data_SamplingRate=np.array([RATE_HZ]), SourceView=around(AZIMUTH), SourceUp=np.array([[0.0, 0.0, 1.0]]),
        ListenerPosition=np.array([[2.0, 0.0, 0.0]]),
    )  # fmt: skip
    found = sofa.read_sofa(path)
    for azimuth in (-30, 90, 0):
        assert found.data[found.nearest(azimuth), 0].max() == pytest.approx(louder_left(np.array([azimuth]))[0])


def test_a_microphone_moved_around_a_source_is_its_direction(tmp_path: Path) -> None:
    path = write(
        tmp_path / "m.sofa", "GeneralFIR", Data_IR=impulses(louder_left(AZIMUTH))[:, None, :],
        Data_SamplingRate=np.array([RATE_HZ]), ListenerPosition=around(AZIMUTH) + np.array([0, 0, 1.2]),
        SourcePosition=np.array([[0.0, 0.0, 1.2]]),
    )  # fmt: skip
    found = sofa.read_sofa(path)
    assert found.elevation_deg == pytest.approx(0, abs=1e-9)
    assert found.data[found.nearest(-90), 0].max() == pytest.approx(10 ** (-6 / 20))


@pytest.mark.parametrize(
    ("convention", "order", "named"),
    [("GeneralFIR-E", "MRNE", True), ("GeneralFIR-E", "MRNE", False), ("GeneralFIRE", "MREN", True),
     ("GeneralFIRE", "MREN", False)],
)  # fmt: skip
def test_one_of_several_emitters_is_named(tmp_path: Path, convention: str, order: str, named: bool) -> None:
    both = np.stack([impulses(louder_left(AZIMUTH)), impulses(3 * louder_left(AZIMUTH))], axis=2)[:, None]  # MRNE
    held = both if order == "MRNE" else np.swapaxes(both, 2, 3)
    path = write(
        tmp_path / "e.sofa", convention, named, Data_IR=held, Data_SamplingRate=np.array([RATE_HZ]),
        SourcePosition=around(AZIMUTH), EmitterPosition=np.zeros((2, 3, 1)), axes={"Data.IR": order},
    )  # fmt: skip
    with pytest.raises(FileError, match=r"has 2 emitters; say which with --emitter 1 … 2"):
        sofa.read_sofa(path)
    with pytest.raises(FileError, match="--emitter 3 is not among them"):
        sofa.read_sofa(path, 3)
    found = sofa.read_sofa(path, 2)
    assert found.data.shape == (36, 1, 64)
    assert found.data[found.nearest(90), 0].max() == pytest.approx(3 * 10 ** (6 / 20))


def test_a_direction_measured_twice_is_known_as_such(tmp_path: Path) -> None:
    twice = np.concatenate([AZIMUTH, [0.0]])
    path = write(
        tmp_path / "d.sofa", "SimpleFreeFieldHRIR", Data_IR=impulses(np.ones(37))[:, None],
        Data_SamplingRate=np.array([RATE_HZ]), SourcePosition=around(twice),
    )  # fmt: skip
    found = sofa.read_sofa(path)
    assert [found.how_often(found.nearest(azimuth)) for azimuth in (0, 10)] == [2, 1]


@pytest.mark.parametrize(
    ("held", "says"),
    [
        ({"Data_SOS": np.zeros((1, 1, 6))}, "holds neither impulse responses"),
        ({"Data_IR": impulses(np.ones(3))[:, None], "Data_SamplingRate": np.array([RATE_HZ])}, "differ in no position"),
        ({"Data_IR": np.full((1, 1, 8), np.nan), "Data_SamplingRate": np.array([RATE_HZ])}, "is not a number"),
        ({"Data_Real": np.ones((1, 1, 3)), "Data_Imag": np.ones((1, 1, 2)), "N": HZ}, "differ in shape"),
        ({"Data_Real": np.ones((1, 1, 3)), "Data_Imag": np.ones((1, 1, 3))}, "lacks 'N'"),
        ({"Data_IR": np.ones((1, 1, 8)), "Data_SamplingRate": np.array([RATE_HZ]),
          "kinds": {"EmitterPosition": "spherical harmonics"}}, "holds spherical harmonics"),
    ],
)  # fmt: skip
def test_what_gives_no_directions_is_refused(tmp_path: Path, held: dict[str, Any], says: str) -> None:
    path = write(tmp_path / "x.sofa", "GeneralFIR", named=False, **held)
    with pytest.raises(FileError, match=says):
        sofa.read_sofa(path)
