"""Times as people say them: places in a track in minutes and seconds, how long something is in s or ms. Pure."""

from __future__ import annotations

import re

CLOCK = re.compile(
    r"(?P<sign>[+-]?)(?:(?P<hours>[0-9]{1,2}):(?=[0-9]{1,2}:))?(?:(?P<minutes>[0-9]{1,4}):)?(?P<rest>[0-9]+)(?P<parts>\.[0-9]+)?"
)
MOST_S = 360_000.0  # 100 hours; more is a slip of the keyboard


def told(time_s: float, decimals: int = 0) -> str:
    """A place in a track as ``1:02``, or ``1:02.4`` with decimals; an hour and more as ``61:02``.

    >>> told(62.0), told(59.96, 1), told(3720.0)
    ('1:02', '1:00.0', '62:00')
    """
    ticks = round(time_s * 10**decimals)
    minutes, rest = divmod(ticks, 60 * 10**decimals)
    width = 2 if decimals == 0 else 3 + decimals
    return f"{minutes}:{rest / 10**decimals:0{width}.{decimals}f}"


def marked(time_s: float) -> str:
    """A moment that somebody marked: with tenths where it has any.

    >>> marked(62.0), marked(32.5)
    ('1:02', '0:32.5')
    """
    return told(time_s, 0 if float(time_s).is_integer() else 1)


def for_how_long(time_s: float) -> str:
    """How long somebody listened, as a clock: hours where there are any, and never 0 of what is more than that.

    >>> for_how_long(0.4), for_how_long(62.4), for_how_long(3599.7), for_how_long(3700.0)
    ('less than a second', '1:02', '1:00:00', '1:01:40')
    """
    if 0 < time_s < 1:
        return "less than a second"
    minutes, rest = divmod(round(time_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def aside(lag_s: float) -> str:
    """Where a recording lies against another, in words, to a thousandth of a second.

    >>> aside(-1.2), aside(3.0), aside(-0.0001)
    ('1.200 s early', '3.000 s late', 'at the same place')
    """
    size = f"{abs(lag_s):.3f}"
    if float(size) == 0:
        return "at the same place"
    return f"{size} s {'early' if lag_s < 0 else 'late'}"


def lasting(length_s: float) -> str:
    """How long something is, without its sign: in seconds from one second on, in milliseconds below.

    >>> lasting(-1.2), lasting(0.0009)
    ('1.200 s', '0.900 ms')
    """
    ms = round(abs(1000 * length_s), 3)
    return f"{ms / 1000:.3f} s" if ms >= 1000 else f"{ms:.3f} ms"


def seconds(text: str) -> float | None:
    """The seconds of a time as people type it; None if it is none.

    Examples
    --------
    >>> seconds("0:30"), seconds("1:02.5"), seconds("62.5"), seconds("1:00:00"), seconds("-0.25")
    (30.0, 62.5, 62.5, 3600.0, -0.25)
    >>> seconds("1:75"), seconds("1_6"), seconds("1e3"), seconds("nan")
    (None, None, None, None)
    """
    found = CLOCK.fullmatch(text.strip()) if text.isascii() else None
    if found is None or len(found["rest"]) > 9:
        return None
    minutes, rest = found["minutes"], float(found["rest"] + (found["parts"] or ""))
    if (minutes is not None and rest >= 60) or (found["hours"] is not None and int(minutes or 0) >= 60):
        return None
    whole = 3600 * int(found["hours"] or 0) + 60 * int(minutes or 0) + rest
    return (-whole if found["sign"] == "-" else whole) if whole <= MOST_S else None
