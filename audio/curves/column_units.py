"""A column's numbers in Hz, in its unit, in degrees: by its heading, by who knows, or by a clear pattern. Pure.

A heading and what somebody says must not contradict each other. Where neither says it and no pattern shows it, it is
asked: each refusal names the option that answers.
"""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np

from ..errors import FileError
from .curve import Numbers
from .headings import FREQUENCY_WORDS, PHASE_WORDS, UNIT_WORDS, FrequencyUnit, Heading, PhaseUnit, Unit

LARGEST_DB, LEAST_DB = 200.0, -250.0
LARGEST_HZ = 1e6
MAY_BE_KHZ = 50.0  # frequencies that end below could be in kHz
MAY_BE_RADIANS = 8 * pi  # phases that stay within could be unwrapped radians
ENDINGS: dict[str, Unit] = {".zma": "ohm", ".frd": "db"}
TO_HZ = {"hz": 1.0, "khz": 1000.0, "rad/s": 1 / (2 * pi)}


def in_hz(path: Path, values: Numbers, head: Heading, wanted: FrequencyUnit | None) -> tuple[Numbers, FrequencyUnit]:
    """The frequencies in Hz, and the unit they came in.

    Raises
    ------
    FileError
        If nothing says the unit, or it cannot be that one.
    """
    named = next((unit for unit in FREQUENCY_WORDS if unit == head.unit and head.quantity == "frequency"), None)
    if wanted and named and wanted != named:
        raise FileError(f"{path}: its heading {head.text!r} says {FREQUENCY_WORDS[named]}, not {wanted}; mend one")
    if wanted is None and named is None and len(values) and values.max() < MAY_BE_KHZ:
        raise FileError(
            f"{path}: its frequencies end at {values.max():g}, which could be Hz or kHz; say which with "
            "--frequency-unit hz or khz"
        )
    unit = wanted or named or "hz"
    if len(values) and values.max() * TO_HZ[unit] > LARGEST_HZ:
        raise FileError(f"{path}: frequencies up to {values.max():g} {FREQUENCY_WORDS[unit]}; check its heading")
    return values * TO_HZ[unit], unit


def in_unit(path: Path, values: Numbers, head: Heading, wanted: Unit | None) -> tuple[Numbers, Unit]:
    """The values in dB (pressure re 20 µPa, voltage re 1 V, a gain re 1) or ohm, and the unit they came in.

    Raises
    ------
    FileError
        If nothing says the unit, or it cannot be that one.
    """
    named = next((unit for unit in UNIT_WORDS if unit == head.unit and head.quantity == "level"), None)
    if wanted and named and wanted != named:
        raise FileError(f"{path}: its heading {head.text!r} says {UNIT_WORDS[named]}, not {UNIT_WORDS[wanted]}")
    unit = wanted or named or ENDINGS.get(path.suffix.lower()) or ("db" if (values <= 0).any() else None)
    if unit is None:
        raise FileError(
            f"{path}: nothing says what its values from {values.min():g} to {values.max():g} are; name their unit with "
            "--unit db, pa, v, ohm or gain"
        )
    if unit == "db":
        if values.max() > LARGEST_DB or values.min() < LEAST_DB:
            raise FileError(
                f"{path}: values from {values.min():g} to {values.max():g} are no dB; name their unit with --unit pa, "
                "v, ohm or gain"
            )
        return values, unit
    if (values <= 0).any():
        raise FileError(f"{path}: {UNIT_WORDS[unit]} must be above 0 everywhere, and some are not; are they dB?")
    if unit == "ohm":
        return values, unit
    return 20 * np.log10(values / (20e-6 if unit == "pa" else 1.0)), unit


def in_degrees(path: Path, angles: Numbers, head: Heading, wanted: PhaseUnit | None) -> tuple[Numbers, str]:
    """The phases in degrees, and the unit they came in, in words.

    Raises
    ------
    FileError
        If nothing says the unit, or it cannot be that one.
    """
    named = next((unit for unit in PHASE_WORDS if unit == head.unit and head.quantity == "phase"), None)
    if wanted and named and wanted != named:
        raise FileError(f"{path}: its heading {head.text!r} says {PHASE_WORDS[named]}, not {PHASE_WORDS[wanted]}")
    largest = float(np.abs(angles).max())
    if wanted is None and named is None and 0 < largest <= MAY_BE_RADIANS:
        raise FileError(
            f"{path}: its phases lie within ±{largest:.2f}, which could be degrees or radians; say which "
            "with --phase deg or --phase rad"
        )
    unit = wanted or named or "deg"
    return (np.degrees(angles) if unit == "rad" else angles), PHASE_WORDS[unit]
