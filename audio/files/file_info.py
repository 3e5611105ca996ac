"""What an audio file is, and what is asked of every file's samples. Plain facts; it opens nothing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..clip import Samples, not_finite
from ..errors import FileError

# soundfile's names of sample formats: whole numbers of so many bits, and floats. All others are lossy.
BITS = {
    "PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32,
    "ALAC_16": 16, "ALAC_20": 20, "ALAC_24": 24, "ALAC_32": 32,
    "DWVW_12": 12, "DWVW_16": 16, "DWVW_24": 24,
}  # fmt: skip
FLOATS = ("FLOAT", "DOUBLE")
LOWEST_RATE_HZ = 8_000
HIGHEST_RATE_HZ = 192_000


@dataclass(frozen=True)
class FileInfo:
    """What an audio file is, without its samples.

    `bits` is the word length of whole-number samples, None for float and lossy formats. `container` and
    `subtype` are soundfile's names ("WAV", "PCM_24"). `lossy` is True where decoding does not give back what
    was recorded. `channel_mask` names the loudspeakers of the channels, where a WAVE header does: one bit each.
    """

    path: Path
    rate_hz: int
    channels: int
    frames: int
    container: str
    subtype: str
    bits: int | None
    lossy: bool
    channel_mask: int | None = None

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz


def check_finite(samples: Samples, path: Path, start_frame: int, rate_hz: int) -> None:
    """Raise FileError if a sample is no number, naming its place; `start_frame`: where the samples lie in the file."""
    place = not_finite(samples)
    if place is None:
        return
    frame, channel = place
    raise FileError(
        f"{path}: holds a sample that is not a number ({samples[frame, channel]}) "
        f"at frame {start_frame + frame} ({(start_frame + frame) / rate_hz:.3f} s), channel {channel + 1}; "
        "export it again"
    )
