"""A maker's words as numbers: impedances, sensitivity, frequency range. Pure; what they leave open stays open."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches

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

NUMBER = r"(\d+(?:[.,]\d+)?)"
DASH = r"(?:-|\u2013|\u2014|\u2212|\.\.\.?|\u2026|to|bis)"
OHM = re.compile(rf"{NUMBER}\s*(?:ohms?|\u03a9|\u2126)", re.IGNORECASE)
DECIBEL = re.compile(rf"{NUMBER}\s*dB", re.IGNORECASE)
AWAY = re.compile(r"(?:\d|/)\s*m\b", re.IGNORECASE)
METRES = re.compile(rf"{NUMBER}\s*m\b", re.IGNORECASE)
BAND = re.compile(rf"{NUMBER}\s*(k?)\s*(?:hz)?\s*{DASH}\s*{NUMBER}\s*(k?)\s*hz", re.IGNORECASE)
BOTH = re.compile(rf"(?:±|\+\s*/?\s*[-\u2212\u2013])\s*{NUMBER}\s*dB", re.IGNORECASE)
EACH = re.compile(rf"\+\s*{NUMBER}\s*(?:dB)?\s*[,/]?\s*[-\u2212\u2013]\s*{NUMBER}\s*dB", re.IGNORECASE)
DOWN = re.compile(rf"[-\u2212\u2013]\s*{NUMBER}\s*dB", re.IGNORECASE)


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
    readers = {NOMINAL: ohms, MINIMUM: ohms, SENSITIVITY: sensitivity, RANGE: band}
    if what in readers and readers[what](value) is None:
        raise CatalogueError(f"{value!r} is no {what}; write it like {EXAMPLES[what]!r}")
    if what == SENSITIVITY and (
        (found := sensitivity(value)) is None or found.for_watt is None or not AWAY.search(value)
    ):
        raise CatalogueError(
            f"{value!r} does not say for which voltage or power and how far away; write it like {EXAMPLES[what]!r}"
        )


def ohms(value: str) -> float | None:
    """An impedance.

    >>> ohms("3,2 Ω at 120 Hz"), ohms("low")
    (3.2, None)
    """
    found = OHM.search(value)
    return _number(found[1]) or None if found else None


def sensitivity(value: str) -> StatedSensitivity | None:
    """A sensitivity.

    >>> sensitivity("88 dB (2.83 V/1 m)")
    StatedSensitivity(level_db=88.0, for_watt=False, distance_m=1.0)
    >>> sensitivity("91 dB/W/m").for_watt, sensitivity("91 dB").for_watt
    (True, None)
    """
    found = DECIBEL.search(value)
    if found is None:
        return None
    volts, watts = re.search(r"2[.,]8\d?\s*V", value), re.search(r"\bW\b|\d\s*W|watt", value)
    metres = METRES.search(value)
    for_watt = bool(watts) if bool(volts) != bool(watts) else None
    return StatedSensitivity(_number(found[1]), for_watt, _number(metres[1]) if metres else 1.0)


def band(value: str) -> StatedRange | None:
    """A frequency range with its tolerance.

    >>> band("45 Hz – 22 kHz ±3 dB")
    StatedRange(low_hz=45.0, high_hz=22000.0, above_db=3.0, below_db=3.0)
    >>> band("38-20k Hz (-6 dB)"), band("40 Hz to 20 kHz +1/-2 dB").above_db, band("30-30000 Hz").below_db
    (StatedRange(low_hz=38.0, high_hz=20000.0, above_db=None, below_db=6.0), 1.0, None)
    """
    found = BAND.search(value)
    if found is None:
        return None
    low, high = _number(found[1]) * (1000 if found[2] else 1), _number(found[3]) * (1000 if found[4] else 1)
    if not 0 < low < high:
        return None
    rest = value[found.end() :]
    if both := BOTH.search(rest):
        return StatedRange(low, high, _number(both[1]), _number(both[1]))
    if each := EACH.search(rest):
        return StatedRange(low, high, _number(each[1]), _number(each[2]))
    down = DOWN.search(rest)
    return StatedRange(low, high, None, _number(down[1]) if down else None)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
