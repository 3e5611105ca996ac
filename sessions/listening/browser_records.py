"""What a host and a page that plays by itself tell one another: output, sounds of a trial, what was heard. Records."""

from __future__ import annotations

from dataclasses import dataclass

from ..casebook.documents import LatencyS


@dataclass(frozen=True)
class BrowserOutput:
    """What the browser tells of its sound output; a label only where it does, numbers 0 where it does not."""

    rate_hz: int
    channels: int = 0
    device: str = ""
    base_latency_s: LatencyS = 0.0
    output_latency_s: LatencyS = 0.0

    @property
    def words(self) -> str:
        """What a session notes as the device it was heard on."""
        latency_ms = round(1000 * (self.base_latency_s + self.output_latency_s))
        told = f", {latency_ms} ms behind" if latency_ms else ""
        return f"the listener's browser ({self.device or 'it does not say on which device'}), {self.rate_hz} Hz{told}"


@dataclass(frozen=True)
class BrowserTrial:
    """What the page is given of a trial: how its sounds are fetched and played; times in frames at the browser's rate.

    Attributes
    ----------
    number
        Rises with every trial loaded; reports of an earlier one are not counted.
    names
        Of the files, in the order of the method's labels.
    first, end
        What is played of the passage.
    weighting
        K-weighting at this rate: two second-order sections, b0 b1 b2 1 a1 a2 each.
    """

    number: int
    rate_hz: int
    frames: int
    channels: int
    pause: int
    fade: int
    ramp: int
    first: int
    end: int
    names: tuple[str, ...]
    weighting: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class BrowserReport:
    """What the page tells of a trial so far; the same report, told twice, counts once.

    Attributes
    ----------
    trial
        Its number.
    stimulus, frame, playing
        What sounds now: −1 for nothing.
    told_before
        How many auditions earlier reports held.
    auditions
        Those since: stimulus, from frame, to frame.
    underruns, stalls
        Since the trial was loaded.
    hidden
        How often the page was put away while it played; no fault by itself.
    trouble
        What was seen of a fault, in words.
    """

    trial: int
    stimulus: int
    frame: int
    playing: bool
    told_before: int = 0
    auditions: tuple[tuple[int, int, int], ...] = ()
    underruns: int = 0
    stalls: int = 0
    hidden: int = 0
    trouble: str = ""
