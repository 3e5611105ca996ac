"""Places in a track as people say them: minutes and seconds. Pure."""

from __future__ import annotations

import re

from .errors import PassageError

_RULE = re.compile(r"(?:(?:(?P<hours>\d+):)?(?P<minutes>\d+):)?(?P<seconds>\d+(?:\.\d+)?)")


def told(time_s: float, decimals: int = 0) -> str:
    """A place in a track as ``1:02``, or ``1:02.4`` with decimals; an hour and more as ``61:02``.

    >>> told(62.0), told(59.96, 1), told(3720.0)
    ('1:02', '1:00.0', '62:00')
    """
    ticks = round(time_s * 10**decimals)
    minutes, rest = divmod(ticks, 60 * 10**decimals)
    width = 2 if decimals == 0 else 3 + decimals
    return f"{minutes}:{rest / 10**decimals:0{width}.{decimals}f}"


def read(text: str) -> float:
    """Seconds of ``1:02``, ``1:02.4``, ``1:00:02`` or ``62``.

    >>> read("1:02.5"), read("62"), read("1:00:02")
    (62.5, 62.0, 3602.0)

    Raises
    ------
    PassageError
        If it is not a place in a track.
    """
    found = _RULE.fullmatch(text.strip())
    if found is None:
        raise PassageError(f"a moment is minutes and seconds, as 1:02, or seconds; got {text!r}")
    return 3600.0 * int(found["hours"] or 0) + 60.0 * int(found["minutes"] or 0) + float(found["seconds"])
