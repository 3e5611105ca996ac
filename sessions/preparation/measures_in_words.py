"""What was made equal, in words and with its unit: for the command line and the desk alike. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .match_sheet import MatchedSetup, MatchSheet

BY = {
    "bs1770": "loudness by ITU-R BS.1770",
    "a": "A-weighted level",
    "c": "C-weighted level",
    "band": "level 500-2000 Hz",
    "mic": "level at the microphone",
    "volts": "voltage at the terminals",
}
AT_MICROPHONE = {"bs1770": "K-weighted level", "z": "unweighted level, 20 Hz to 20 kHz"}  # of noise, where `BY` differs


def by_in_words(by: str) -> str:
    """What was made equal."""
    from .meanings import full_scale_spl  # it loads arithmetic

    spl_db = full_scale_spl(by)
    return f"{named(by)}, full scale taken to play at {spl_db} dB SPL" if spl_db else BY[by]


def named(by: str, read_by: str = "") -> str:
    """What was made equal, without the level at which that was heard; `read_by` is the sheet's."""
    from .meanings import full_scale_spl, method

    if full_scale_spl(by):
        return f"loudness by ISO 532-1 ({method(by)})"
    return (read_by == "mic" and AT_MICROPHONE.get(by)) or BY[by]


def unit_of(by: str) -> str:
    """The unit of a measure's differences."""
    from .meanings import full_scale_spl

    return "phon" if full_scale_spl(by) else "LU"


def within(sheet: MatchSheet) -> str:
    """Whether what is left lies within the tolerance; the channels' balance has a limit of its own."""
    return "within" if sheet.residual_lu <= sheet.tolerance_lu else "MORE THAN"


def levels_in_words(own: MatchedSetup) -> tuple[str, str, str, str]:
    """A setup's loudness before in LUFS, its gain in dB, its loudness afterwards, and its highest peak in dBTP."""
    return f"{own.loudness_lufs:.2f}", f"{own.gain_db:+.2f}", f"{own.after_lufs:.2f}", f"{own.true_peak_dbtp:.1f}"


def unit_read(sheet: MatchSheet) -> str:
    """The unit of what a voltmeter or a microphone read."""
    if sheet.voltmeter is not None:
        return "dB re 1 V"
    if sheet.reads_phon:
        return "phon"
    return "dBFS" if sheet.spl_offset_db is None else "dB SPL"


def read_by(sheet: MatchSheet) -> str:
    """What real gear was made equal in."""
    return f"{named(sheet.taken)} of the noise at the microphone" if sheet.reads_phon else by_in_words(sheet.by)
