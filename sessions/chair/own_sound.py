"""A chair whose page plays by itself: it says on what, reads the sounds of a trial, and tells what was heard."""

from __future__ import annotations

from dataclasses import dataclass

from audio import browser_sound
from audio.browser_sound import Reading

from ..errors import ListenError
from ..listening.browser_playback import BrowserPlayback
from ..listening.browser_records import BrowserOutput, BrowserReport, BrowserTrial
from .given import Said
from .sitting import Sitting


@dataclass(frozen=True)
class SoundsRead:
    """What a page read of a trial's sounds as it plays them, in the order of the labels."""

    trial: int
    readings: tuple[Reading, ...]


def opened(chair: Sitting, output: BrowserOutput) -> Said:
    """Play on this output from now on; another one than before is kept in the session's record.

    Raises
    ------
    MeasureError
        If no sound runs at such a rate; the one before stays.
    """
    browser_sound.check_rate(output.rate_hz)
    browser = _browser(chair)
    before = browser.output
    browser.open(output)
    known = chair.device if before is None else before.words
    if output.words != known:
        chair.heard_on(output.words)
    if before is None or before.rate_hz != output.rate_hz:
        chair.come_anew()
    return Said("kept")


def sounds(chair: Sitting) -> BrowserTrial | None:
    """What the page is given of the trial on offer; None while there is none."""
    return _browser(chair).trial if chair.asking == "hear" else None


def file(chair: Sitting, name: str) -> bytes | None:
    """A file of the trial on offer; None where there is none of this name."""
    return _browser(chair).file(name)


def read(chair: Sitting, found: SoundsRead) -> Said:
    """Take what the page read of the sounds.

    Raises
    ------
    DeviceError
        If it plays something else than it was given.
    """
    _browser(chair).read(found.trial, found.readings)
    return Said("kept")


def told(chair: Sitting, report: BrowserReport) -> Said:
    """Take what the page tells of what was heard.

    Raises
    ------
    DeviceError
        If it tells of what cannot be.
    """
    _browser(chair).told(report)
    return Said("kept")


def _browser(chair: Sitting) -> BrowserPlayback:
    if chair.browser is None:
        raise ListenError("the sound of this chair comes from the host, not from its page; load the page again")
    return chair.browser
