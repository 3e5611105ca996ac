"""Places in a track as people say them: minutes and seconds. Pure."""

from __future__ import annotations


def told(time_s: float, decimals: int = 0) -> str:
    """A place in a track as ``1:02``, or ``1:02.4`` with decimals; an hour and more as ``61:02``.

    >>> told(62.0), told(59.96, 1), told(3720.0)
    ('1:02', '1:00.0', '62:00')
    """
    ticks = round(time_s * 10**decimals)
    minutes, rest = divmod(ticks, 60 * 10**decimals)
    width = 2 if decimals == 0 else 3 + decimals
    return f"{minutes}:{rest / 10**decimals:0{width}.{decimals}f}"
