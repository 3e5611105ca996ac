"""A maker's words as numbers: impedances, sensitivity, frequency range. Pure; what they leave open stays open."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from math import log10

from ..errors import CatalogueError

NOMINAL, MINIMUM, SENSITIVITY, RANGE = "nominal impedance", "minimum impedance", "sensitivity", "range"
NAMES = {
    "nominal": NOMINAL, "impedance": NOMINAL, "rated impedance": NOMINAL, "minimum": MINIMUM,
    "impedance minimum": MINIMUM, "frequency range": RANGE, "frequency response": RANGE,
}  # fmt: skip
"""Other names for the facts that curves can be set beside."""
EXAMPLES = {
    NOMINAL: "4 ohm", MINIMUM: "3.2 ohm", SENSITIVITY: "88 dB 2.83 V/1 m", RANGE: "45 Hz - 22 kHz ±3 dB",
}  # fmt: skip

NEAR = 0.85  # how alike a misspelt name is, by difflib's measure; our choice

NUMBER = r"(\d{1,3}(?:[,.]\d{3}){2,}|\d+(?:[.,]\d+)?)"
GROUPED = re.compile(r"\d{1,3}([,.]\d{3})+")  # a mark of thousands, or three decimals
DASH = r"(?:-|\.\.\.?|to|bis)"
OHM = re.compile(
    rf"(?:(nominal|rated|minimum|min\.?)[\s:,]+)?{NUMBER}[\s-]*ohms?\b(?:\s*\(?(?:at|@|bei)\s*{NUMBER}\s*k?hz\)?)?"
    r"[\s,]*\(?(nominal|rated|minimum|min\.?)?\)?",
    re.IGNORECASE,
)
OHM_AT = re.compile(rf"ohms?\b\s*\(?(?:at|@|bei)\s*{NUMBER}\s*(k?)hz", re.IGNORECASE)
JOINED = r"[\s,;/(@]*(?:(?:at|for|from|with|into|in|bei)[\s(]+)?"
PLUS_MINUS = r"(?:±|\+\s*/?\s*-)"
DRIVE = r"(?:(?P<drive>\d+(?:[.,]\d+)?)?\s*(?P<unit>V|W|volts?|watts?)(?:\s*rms)?\b)"
AWAY_AT = r"(?:(?P<metres>\d+(?:[.,]\d+)?)?\s*(?:m|metres?|meters?)\b)"
LEVEL = rf"(?P<level>\d+(?:[.,]\d+)?)\s*(?:dB\s*)?(?:{PLUS_MINUS}\s*\d+(?:[.,]\d+)?\s*)?dB(?:\s*\(?SPL\)?)?"
TOLERANCE_OF_LEVEL = rf"(?:[\s,]*{PLUS_MINUS}\s*\d+(?:[.,]\d+)?\s*dB)?"
SENSITIVITIES = tuple(
    re.compile(rf"{LEVEL}{TOLERANCE_OF_LEVEL}{rest}[\s)]*", re.IGNORECASE)
    for rest in (rf"(?:{JOINED}{DRIVE})?(?:\)?{JOINED}{AWAY_AT})?", rf"{JOINED}{AWAY_AT}\)?{JOINED}{DRIVE}")
)
AWAY = re.compile(r"(?:\d|/)\s*m(?:et(?:re|er)s?)?\b", re.IGNORECASE)
BAND = re.compile(rf"{NUMBER}\s*(k?)\s*(hz)?\s*{DASH}\s*{NUMBER}\s*(k?)\s*hz", re.IGNORECASE)
BOTH = re.compile(rf"[\s,;:(@]*(?:within\s+)?{PLUS_MINUS}\s*{NUMBER}\s*dB[\s),;:]*", re.IGNORECASE)
EACH = re.compile(rf"[\s,;:(@]*\+\s*{NUMBER}\s*(?:dB)?\s*[,/]?\s*-\s*{NUMBER}\s*dB[\s),;:]*", re.IGNORECASE)
DOWN = re.compile(rf"[\s,;:(@]*(?:at\s+)?-\s*{NUMBER}\s*dB[\s),;:]*", re.IGNORECASE)
AT_VOLTS = 2.83
SAME_DRIVE_DB = 0.1  # 2.8 V and 2.828 V are meant as 2.83 V


@dataclass(frozen=True)
class StatedSensitivity:
    """A level in dB; for 2.83 V or for one watt (None: the maker does not say), at a distance in metres."""

    level_db: float
    for_watt: bool | None
    distance_m: float


@dataclass(frozen=True)
class StatedRange:
    """A band in Hz and how far the level may lie above and below in it, dB.

    `above_db` is None where only a fall is stated, both where the maker gives no tolerance.
    """

    low_hz: float
    high_hz: float
    above_db: float | None
    below_db: float | None


def name_of(what: str) -> str:
    """The name under which a fact is kept: one of ours where it is one that curves can be set beside."""
    plain = " ".join(what.lower().split())
    return NAMES.get(plain, plain)


def check(what: str, value: str) -> None:
    """Nothing, if a value that curves can be set beside can be read.

    Raises
    ------
    CatalogueError
        If it cannot; the message shows how it is written. If the name itself looks misspelt.
    """
    near = get_close_matches(what, [*EXAMPLES, *NAMES], 1, NEAR)
    if near and what not in EXAMPLES:
        raise CatalogueError(
            f"{what!r}: did you mean {name_of(near[0])!r}? Only then is it set beside what was measured"
        )
    if what in EXAMPLES and not read(what, value):
        raise CatalogueError(f"{value!r} is no {what}; write it like {EXAMPLES[what]!r}, one value and nothing else")
    if what == SENSITIVITY and (
        (found := sensitivity(value)) is None or found.for_watt is None or not AWAY.search(value)
    ):
        raise CatalogueError(
            f"{value!r} does not say for which voltage or power and how far away; write it like {EXAMPLES[what]!r}"
        )


def read(what: str, value: str) -> bool:
    """Whether the value of a fact that curves can be set beside is understood whole."""
    readers: dict[str, Callable[[str], object]] = {
        NOMINAL: lambda text: ohms(text, NOMINAL),
        MINIMUM: lambda text: ohms(text, MINIMUM),
        SENSITIVITY: sensitivity,
        RANGE: band,
    }
    return readers[what](value) is not None


def ohms(value: str, what: str = "") -> float | None:
    """An impedance; None for what is not understood whole, such as two values, or one of another kind than `what`.

    >>> ohms("3,2 Ω at 120 Hz"), ohms("low"), ohms("4-8 ohm"), ohms("minimum 3.4 ohm", NOMINAL)
    (3.2, None, None, None)
    """
    found = OHM.fullmatch(_plain(value))
    if found is None or GROUPED.fullmatch(found[2]):
        return None
    kinds = {MINIMUM if word.lower().startswith("min") else NOMINAL for word in (found[1], found[4]) if word}
    if len(kinds) > 1 or (what and kinds - {what}):
        return None
    return _number(found[2]) or None


def ohms_at_hz(value: str) -> float | None:
    """The frequency at which an impedance is stated, Hz; None where none is, or it is not understood.

    >>> ohms_at_hz("3,2 Ω at 120 Hz"), ohms_at_hz("4 ohm (at 1.2 kHz)"), ohms_at_hz("4 ohm")
    (120.0, 1200.0, None)
    """
    found = OHM_AT.search(_plain(value))
    return _hertz(found[1], found[2]) or None if found and ohms(value) is not None else None


def sensitivity(value: str) -> StatedSensitivity | None:
    """A sensitivity, at 2.83 V or one watt also where it is stated for others; None for what is not understood whole.

    >>> sensitivity("88 dB (2.83 V/1 m)")
    StatedSensitivity(level_db=88.0, for_watt=False, distance_m=1.0)
    >>> sensitivity("91 dB/W/m").for_watt, sensitivity("91 dB").for_watt, sensitivity("108 dB 100 W/1 m").level_db
    (True, None, 88.0)
    """
    plain = _plain(value)
    found = next((match for pattern in SENSITIVITIES if (match := pattern.fullmatch(plain))), None)
    if found is None:
        return None
    level, metres = _number(found["level"]), _number(found["metres"] or "1")
    unit, drive = (found["unit"] or "").lower(), found["drive"]
    if not metres or (drive and not _number(drive)) or (unit.startswith("v") and not drive):
        return None
    if not unit:
        return StatedSensitivity(level, None, metres)
    if unit.startswith("w"):
        return StatedSensitivity(level - 10 * log10(_number(drive or "1")), True, metres)
    apart = 20 * log10(_number(drive) / AT_VOLTS)
    return StatedSensitivity(level if abs(apart) < SAME_DRIVE_DB else level - apart, False, metres)


def band(value: str) -> StatedRange | None:
    """A frequency range with its tolerance, before or behind it; None for what is not understood whole.

    >>> band("45 Hz – 22 kHz ±3 dB")
    StatedRange(low_hz=45.0, high_hz=22000.0, above_db=3.0, below_db=3.0)
    >>> band("38-20k Hz (-6 dB)"), band("40 Hz to 20 kHz +1/-2 dB").above_db, band("30-30000 Hz").below_db
    (StatedRange(low_hz=38.0, high_hz=20000.0, above_db=None, below_db=6.0), 1.0, None)
    >>> band("33 Hz - 25 kHz; 28 Hz - 30 kHz (-10 dB)")
    """
    plain = _plain(value)
    found = BAND.search(plain)
    if found is None or (not found[3] and not found[2] and found[5] and _number(found[1]) < _number(found[4])):
        return None  # "2 - 20 kHz" may begin at 2 Hz or at 2 kHz
    low, high = _hertz(found[1], found[2]), _hertz(found[4], found[5])
    if not 0 < low < high:
        return None
    before, after = plain[: found.start()].strip(" ,;:("), plain[found.end() :].strip(" ,;:")
    stated = [part for part in (before, after) if part]
    if not stated:
        return StatedRange(low, high, None, None)
    if len(stated) > 1:
        return None
    if both := BOTH.fullmatch(stated[0]):
        return StatedRange(low, high, _number(both[1]), _number(both[1]))
    if each := EACH.fullmatch(stated[0]):
        return StatedRange(low, high, _number(each[1]), _number(each[2]))
    down = DOWN.fullmatch(stated[0])
    return StatedRange(low, high, None, _number(down[1])) if down else None


def understood(what: str, value: str) -> str:
    """What is read of a value that curves are set beside, in words; empty of any other, or what is not understood.

    >>> understood(RANGE, "20 Hz - 20,000 Hz, +1/-2 dB")
    '20 to 20000 Hz, at most 1 dB above and 2 dB below'
    >>> understood(SENSITIVITY, "90 dB 100 W/1 m"), understood(SENSITIVITY, "85 ± 2 dB 2.83 V/1 m")
    ('70 dB for 1 W at 1 m', '85 dB for 2.83 V at 1 m')
    """
    if what in (NOMINAL, MINIMUM):
        found = ohms(value, what)
        return "" if found is None else f"{found:g} ohm"
    if what == SENSITIVITY and (level := sensitivity(value)) and level.for_watt is not None:
        return f"{level.level_db:.4g} dB for {'1 W' if level.for_watt else '2.83 V'} at {level.distance_m:g} m"
    if what == RANGE and (own := band(value)):
        above = f"at most {own.above_db:g} dB above and " if own.above_db is not None else "at most "
        tolerance = "no tolerance" if own.below_db is None else f"{above}{own.below_db:g} dB below"
        return f"{own.low_hz:g} to {own.high_hz:g} Hz, {tolerance}"
    return ""


def _plain(value: str) -> str:
    """A value with one sort of dash, sign and space."""
    text = re.sub("[\u2013\u2014\u2212]", "-", value.replace("\u2026", "..."))
    text = re.sub("[\u03a9\u2126]", " ohm", text)
    return " ".join(text.split())


def _hertz(text: str, kilo: str) -> float:
    """Hz; a mark before three digits is one of thousands there, as nobody states thousandths of a hertz."""
    if kilo:
        return 1000 * _number(text)
    return float(re.sub("[,.]", "", text)) if GROUPED.fullmatch(text) else _number(text)


def _number(text: str) -> float:
    return float(text.replace(",", ".")) if text.count(",") + text.count(".") < 2 else float("nan")
