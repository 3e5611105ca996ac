from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading
from demo_tracks import tracks

RATE_HZ = 48_000
LENGTH_S = 2.7  # two of them fit in a transform of 2^18 frames
LONGER_S = 5.0
SPOKEN = Path("/usr/share/sounds/alsa")  # Debian's alsa-utils: a person says the names of loudspeakers


def said(names: tuple[str, ...]) -> np.ndarray:
    words = np.concatenate([reading.read(SPOKEN / f"{name}.wav").samples[:, 0] for name in names])
    return words[: round(LONGER_S * RATE_HZ)]


def shortened(clip: Clip) -> Clip:
    return Clip(clip.samples[: round(LENGTH_S * RATE_HZ)], RATE_HZ)


@pytest.fixture(scope="session")
def longer_spoken() -> Clip:
    """Spoken words with pauses between them: one sentence in the middle, a fainter one of other words to the right."""
    middle = said(("Front_Center", "Front_Left", "Rear_Right", "Side_Left"))
    right = np.roll(said(("Side_Right", "Rear_Left", "Rear_Center", "Front_Right"))[::-1], 9000)
    return Clip(np.stack([middle, 0.8 * middle + 0.25 * right], axis=1) * 0.5, RATE_HZ)


@pytest.fixture(scope="session")
def longer_music() -> dict[str, Clip]:
    """Five seconds from the middle of each demo track."""
    frames = round(LONGER_S * RATE_HZ)
    return {track.name: reading.read(tracks.path(track.name), 2 * RATE_HZ, frames) for track in tracks.TRACKS}


@pytest.fixture(scope="session")
def longer(longer_music: dict[str, Clip], longer_spoken: Clip) -> dict[str, Clip]:
    """All of them by name."""
    return longer_music | {"spoken": longer_spoken}


@pytest.fixture(scope="session")
def spoken(longer_spoken: Clip) -> Clip:
    """The first words of them."""
    return shortened(longer_spoken)


@pytest.fixture(scope="session")
def music(longer_music: dict[str, Clip]) -> dict[str, Clip]:
    """Less of each, for what does not hang on the length."""
    return {name: shortened(clip) for name, clip in longer_music.items()}


@pytest.fixture(scope="session")
def real(music: dict[str, Clip], spoken: Clip) -> dict[str, Clip]:
    """All of these by name."""
    return music | {"spoken": spoken}
