"""What the heading of a column says: which quantity it holds, and in which unit. Pure; guesses nothing."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

Quantity = Literal["frequency", "level", "phase", "complex", "other", "strange", ""]
Unit = Literal["db", "pa", "v", "ohm", "gain"]
PhaseUnit = Literal["deg", "rad"]
FrequencyUnit = Literal["hz", "khz", "rad/s"]

UNIT_WORDS: dict[Unit, str] = {"db": "dB", "pa": "Pa", "v": "V", "ohm": "ohm", "gain": "linear gain"}
PHASE_WORDS: dict[PhaseUnit, str] = {"deg": "degrees", "rad": "radians"}
FREQUENCY_WORDS: dict[FrequencyUnit, str] = {"hz": "Hz", "khz": "kHz", "rad/s": "rad/s"}

TOKEN = re.compile(r"rad/s(?:ec)?\b|v/v|pa/v|[^\W\d_]+|°|%")
FREQUENCIES = {"f", "freq", "freqs", "frequency", "frequencies", "frequenz"}
PHASES = {"phase", "phi", "φ", "arg", "ph", "phases"}
DEGREES, RADIANS = {"deg", "degs", "degree", "degrees", "grad", "°"}, {"rad", "radian", "radians"}
PARTS = {"real", "imag", "imaginary", "re", "im"}
OTHERS = {"%", "thd", "coherence", "coh", "delay", "time", "t", "ms", "s", "sec", "seconds", "noise", "snr", "sigma",
          "uncertainty", "std", "index", "count", "hd", "harmonic", "harmonics", "distortion", "imd"}  # fmt: skip
LEVELS: dict[str, tuple[Unit, float]] = {
    "pa": ("pa", 1.0), "pascal": ("pa", 1.0), "pascals": ("pa", 1.0), "mpa": ("pa", 1e-3), "μpa": ("pa", 1e-6),
    "µpa": ("pa", 1e-6), "upa": ("pa", 1e-6), "v": ("v", 1.0), "volt": ("v", 1.0), "volts": ("v", 1.0),
    "mv": ("v", 1e-3), "ohm": ("ohm", 1.0), "ohms": ("ohm", 1.0), "ω": ("ohm", 1.0), "kω": ("ohm", 1e3),
    "kohm": ("ohm", 1e3), "mω": ("ohm", 1e-3), "mohm": ("ohm", 1e-3), "megω": ("ohm", 1e6), "megohm": ("ohm", 1e6),
    "impedance": ("ohm", 1.0), "z": ("ohm", 1.0), "spl": ("db", 1.0), "lin": ("gain", 1.0),
    "linear": ("gain", 1.0), "ratio": ("gain", 1.0), "factor": ("gain", 1.0), "v/v": ("gain", 1.0),
}  # fmt: skip
PLAIN = {
    "ohm",
    "ohms",
    "ω",
    "kω",
    "kohm",
    "mω",
    "mohm",
    "megω",
    "megohm",
}  # a unit, where `impedance` and `z` only name the quantity
IMPEDANCES = {"impedance", "z", *PLAIN}
HERTZ: dict[str, tuple[FrequencyUnit, float]] = {
    "khz": ("khz", 1.0), "mhz": ("hz", 1e-3), "meghz": ("hz", 1e6), "hz": ("hz", 1.0),
}  # fmt: skip
TURNS = {"cycle", "cycles", "turn", "turns"}
MEGA = re.compile(r"(?<![^\W\d_])M(?=Hz|[oO]hm|\u03a9|\u2126)")  # lower case alone would make it milli
REFERENCE = re.compile(r"\bre[fl]?\b[.:]?\s*(?:to\s+)?\d+(?:[.,]\d+)?\s*[^\W\d_]*", re.IGNORECASE)  # as in dB re 1 V
SPL_WORDS = re.compile(r"spl|\bre[fl]?\b[.:]?\s*(?:to\s+)?20\s*[u\u00b5\u03bc]pa", re.IGNORECASE)
STRANGE = re.compile(r"\b(?:log|ln|lg)(?:10)?\b|\^\s*2|\*\*\s*2|\u00b2|\bpa2\b", re.IGNORECASE)
ANGLE = re.compile(
    r"^(?:(?:spl|level|magnitude|mag)?\W*)(?:(?:h|hor|horizontal|v|ver|vert|vertical)\W*)?"
    r"[+\-\u2212\u2013]?\d+(?:[.,]\d+)?\W*(?:deg(?:rees?)?|[°\u00ba\u02da])?\W*(?:\(?\[?dB(?:\s*SPL)?\]?\)?)?$",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Heading:
    """A heading, read; `unit` is empty where it states none, `scale` turns the column's numbers into that unit.

    The quantity is `strange` where it is a level or a frequency in a way that is not read: squared, a logarithm.
    """

    text: str
    quantity: Quantity
    unit: str = ""
    scale: float = 1.0

    @property
    def angle(self) -> bool:
        """Whether it names a direction: the column is a curve of that one."""
        return self.quantity == "level" and bool(ANGLE.match(self.text))


def is_spl(text: str) -> bool:
    """Whether a heading speaks of dB SPL: by name, or by its reference of 20 µPa.

    >>> is_spl("SPL (dB)"), is_spl("dB re 20 µPa"), is_spl("dB re 1 V")
    (True, True, False)
    """
    return bool(SPL_WORDS.search(text))


def meaning(text: str) -> Heading:
    """What a heading says.

    Examples
    --------
    >>> for heading in ("f [kHz]", "SPL (dB)", "Phase[rad]", "p / mPa", "linear gain", "Z_Ω", "left"):
    ...     found = meaning(heading)
    ...     print(found.quantity or "not said", found.unit or "unit not said", found.scale)
    frequency khz 1.0
    level db 1.0
    phase rad 1.0
    level pa 0.001
    level gain 1.0
    level ohm 1.0
    not said unit not said 1.0
    """
    if re.search(r"\bdB", text, re.IGNORECASE) and REFERENCE.search(text):
        return replace(meaning(REFERENCE.sub("", text)), text=text)  # "re 1 kHz" names no frequency, "re" no part
    own = set(TOKEN.findall(MEGA.sub("meg", text).lower().replace("\u00ba", "°").replace("\u02da", "°")))
    if ANGLE.match(text) and re.search(r"\d", text):
        return Heading(text, "level", "db" if "db" in own else "")
    if STRANGE.search(text):
        return Heading(text, "strange")
    if own & {"rad/s", "rad/sec"}:
        return Heading(text, "frequency", "rad/s")
    if own & HERTZ.keys():
        return Heading(text, "frequency", *next(HERTZ[word] for word in HERTZ if word in own))
    if own & PARTS:
        return Heading(text, "complex")
    if own & PHASES and own & TURNS:
        return Heading(text, "phase", "deg", 360.0)
    if "mrad" in own:
        return Heading(text, "phase", "rad", 1e-3)
    if own & (PHASES | DEGREES | RADIANS):
        return Heading(text, "phase", "rad" if own & RADIANS else "deg" if own & DEGREES else "")
    if any(word.startswith("db") for word in own):
        return Heading(text, "other" if own & OTHERS else "strange" if own & IMPEDANCES else "level", "db")
    if own & OTHERS:
        return Heading(text, "other")
    named = {word: LEVELS[word] for word in own if word in LEVELS}
    stated = {word: unit for word, unit in named.items() if word in PLAIN} or named
    if len({unit for unit, _ in stated.values()}) == 1:
        unit, scale = min(stated.values(), key=lambda found: found[1])
        return Heading(text, "level", unit, scale)
    if stated or "pa/v" in own:
        return Heading(text, "level")
    return Heading(text, "frequency" if own & FREQUENCIES else "")
