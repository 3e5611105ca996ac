"""Two setups as a page of the desk asks for them: what there is to choose from, and which two were chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError

NOTHING_TO_DRAW = "nothing to draw: not both setups have a response on axis"


@dataclass(frozen=True)
class Two:
    """All setups by name, and the two that are shown; `setups` is empty where there are not two."""

    names: Sequence[str]
    first: str
    second: str
    setups: Sequence[Setup]


def chosen(casebook: Casebook, first: str, second: str) -> Two:
    """The two of these names; the first two there are where none is named.

    Raises
    ------
    CatalogueError
        If one is unknown, or both are one.
    """
    every = catalogue.everything(casebook, Setup)
    names = [one.name for one in every]
    if not first and not second:
        two = every[:2] if len(every) > 1 else []
    else:
        two = [catalogue.find(casebook, Setup, name) for name in (first, second)]
        if two[0].id == two[1].id:
            raise CatalogueError(f"{first!r} and {second!r} are one setup; choose two")
    shown = [one.name for one in two] or ["", ""]
    return Two(names, shown[0], shown[1], two)
