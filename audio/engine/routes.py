"""Where a setup plays: a device and its own channels of it, as written ``DEVICE:1,2``. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import DeviceError

MOST_CHANNELS = 64  # of one setup; more is a slip of the keyboard


@dataclass(frozen=True)
class Route:
    """A device (None: the system's) and the channels of it, counted from 0."""

    device: str | None
    channels: tuple[int, ...]

    @property
    def text(self) -> str:
        """The route as a person writes it, channels counted from 1."""
        return f"{self.device or ''}:{','.join(str(channel + 1) for channel in self.channels)}"


def parse(text: str, what: str = "a route") -> Route:
    """The route of a text ``DEVICE:1,2``; channels are counted from 1, a missing device means the system's.

    Raises
    ------
    DeviceError
        If it is not of that form, or names a channel twice.

    Examples
    --------
    >>> parse("Interface, ALSA:3,4")
    Route(device='Interface, ALSA', channels=(2, 3))
    """
    device, colon, numbers = text.rpartition(":")
    parts = [part.strip() for part in numbers.split(",")]
    if not colon or not all(part.isdecimal() for part in parts):
        raise DeviceError(
            f"{what} is DEVICE:CHANNEL,CHANNEL with channels counted from 1, for example interface:3,4; got {text!r}"
        )
    channels = tuple(int(part) - 1 for part in parts)
    if min(channels) < 0 or max(channels) >= MOST_CHANNELS or len(set(channels)) != len(channels):
        raise DeviceError(f"{what} counts its channels from 1 and names each once; got {text!r}")
    return Route(device.strip() or None, channels)
