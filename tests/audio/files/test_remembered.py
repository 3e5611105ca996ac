"""Sound kept in memory for a while is what the file holds, to the last bit; what cannot be kept so is read again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio.files import libsndfile, reading, remembered

FRAMES = 150_000


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The files that are opened for decoding, each time they are."""
    found: list[Path] = []
    whole = libsndfile.opened

    def watched(path: Path) -> object:
        found.append(path)
        return whole(path)

    monkeypatch.setattr(reading, "opened", watched)
    return found


def made(path: Path, subtype: str) -> Path:
    samples = np.random.default_rng(1).uniform(-0.99, 0.99, (FRAMES, 2))
    soundfile.write(path, samples, 48_000, subtype=subtype)
    return path


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_what_is_remembered_is_what_was_read_and_is_not_decoded_again(
    tmp_path: Path, opened: list[Path], subtype: str
) -> None:
    path = made(tmp_path / "a.wav", subtype)
    whole, part = reading.read(path).samples, reading.read(path, 70_001, 65_540).samples
    with remembered.remembering():
        assert np.array_equal(np.concatenate(list(reading.blocks(path, 4096))), whole)
        opened.clear()
        assert np.array_equal(np.concatenate(list(reading.blocks(path))), whole)
        assert np.array_equal(reading.read(path, 70_001, 65_540).samples, part)
        assert not opened
    assert np.array_equal(reading.read(path).samples, whole)
    assert opened == [path]


@pytest.mark.parametrize("subtype", ["PCM_32", "DOUBLE"])
def test_what_a_32_bit_float_cannot_hold_is_read_again(tmp_path: Path, opened: list[Path], subtype: str) -> None:
    path = made(tmp_path / "a.wav", subtype)
    with remembered.remembering():
        first = np.concatenate(list(reading.blocks(path)))
        opened.clear()
        assert np.array_equal(np.concatenate(list(reading.blocks(path))), first)
        assert opened == [path]


def test_a_file_that_changes_is_read_again(tmp_path: Path) -> None:
    path = made(tmp_path / "a.wav", "PCM_16")
    with remembered.remembering():
        list(reading.blocks(path))
        soundfile.write(path, np.zeros((FRAMES + 1, 2)), 48_000, subtype="PCM_16")
        assert reading.read(path).frames == FRAMES + 1


def test_only_what_there_is_room_for_is_remembered(tmp_path: Path, opened: list[Path]) -> None:
    one, two = made(tmp_path / "a.wav", "PCM_16"), made(tmp_path / "b.wav", "PCM_16")
    with remembered.remembering(most_bytes=8 * FRAMES + 1):
        for path in (one, two):
            list(reading.blocks(path))
        opened.clear()
        for path in (one, two):
            list(reading.blocks(path))
        assert opened == [two]


def test_a_file_read_in_part_is_not_taken_for_the_whole(tmp_path: Path, opened: list[Path]) -> None:
    path = made(tmp_path / "a.wav", "PCM_16")
    with remembered.remembering():
        next(iter(reading.blocks(path)))
        opened.clear()
        assert sum(len(block) for block in reading.blocks(path)) == FRAMES
        assert opened == [path]
