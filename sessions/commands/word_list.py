"""The words of a ballot as they are typed, or as a file lists them."""

from __future__ import annotations

from pathlib import Path

from ..errors import PlanError


def listed(text: str) -> tuple[str, ...]:
    """The words of a list with commas, or of a file with one in each line.

    Raises
    ------
    PlanError
        If it is neither.
    """
    if "," in text:
        return tuple(word for word in text.split(",") if word.strip())
    try:
        lines = Path(text).read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no text"
        raise PlanError(f"--words takes FILE or a,b,c; {text!r} has no comma, and as a file: {why}") from error
    return tuple(line for line in lines if line.strip())
