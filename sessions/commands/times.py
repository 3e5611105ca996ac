"""Times as they are typed and read: minutes and seconds, or seconds."""

from __future__ import annotations

import re
from typing import Any

import click

from audio.track_time import told

CLOCK = re.compile(
    r"(?P<sign>[+-]?)(?:(?P<hours>[0-9]{1,2}):(?=[0-9]{1,2}:))?(?:(?P<minutes>[0-9]{1,4}):)?(?P<rest>[0-9]+)(?P<parts>\.[0-9]+)?"
)
MOST_S = 360_000.0  # 100 hours; more is a slip of the keyboard


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


def clock(time_s: float) -> str:
    """A time as people read it: minutes, seconds, milliseconds.

    >>> clock(62.5), clock(0), clock(59.9996), clock(-0.25)
    ('1:02.500', '0:00.000', '1:00.000', '-0:00.250')
    """
    size = told(abs(time_s), 3)
    return f"-{size}" if time_s < 0 and size != told(0.0, 3) else size


class Time(click.ParamType[float]):
    """A time in seconds, typed as ``1:02.5`` or ``62.5``."""

    name = "time"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The seconds that were typed."""
        if isinstance(value, float):
            return value
        found = seconds(str(value))
        if found is None:
            self.fail(f"{value!r} is no time; give minutes and seconds, such as 0:30 or 1:02.5, or seconds", param, ctx)
        return found


TIME = Time()
