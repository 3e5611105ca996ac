"""Times as they are typed and read: minutes and seconds, or seconds."""

from __future__ import annotations

from typing import Any

import click

from audio.track_time import seconds, told


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
