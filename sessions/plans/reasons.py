"""A reason for the record, as it is typed: what stands in a told command in its place is none. Pure."""

from __future__ import annotations

from ..errors import PlanError

PLACEHOLDERS = "WHY", "TEXT"  # in capitals in the commands that are told


def check_reason(why: str, option: str) -> None:
    """Nothing, if what was typed for an option is a reason, or nothing at all.

    Raises
    ------
    PlanError
        If it is what a told command has in the reason's place.

    Examples
    --------
    >>> check_reason("it is so on the disc", "--why")
    >>> check_reason("WHY", "--why")
    Traceback (most recent call last):
    ...
    sessions.errors.PlanError: --why needs a reason of yours, which stays on record, in place of WHY
    """
    if why.strip() in PLACEHOLDERS:
        raise PlanError(f"{option} needs a reason of yours, which stays on record, in place of {why.strip()}")
