"""Words found again: by what was said or noted, whatever the capitals, accents and forms. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from ..errors import CatalogueError
from .folding import roots
from .log import LoggedWord


def matching(words: Iterable[LoggedWord], text: str) -> list[LoggedWord]:
    """The words whose term or note holds all the given ones in some form (bright finds Brighter and brightness).

    Those whose term holds them come first, in their order, then those whose note does.

    Raises
    ------
    CatalogueError
        If nothing is asked for.
    """
    wanted = set(roots(text))
    if not wanted:
        raise CatalogueError("nothing to search for; give one or more words")
    found = [word for word in words if wanted <= {*roots(word.term), *roots(word.note)}]
    return sorted(found, key=lambda word: not wanted <= set(roots(word.term)))
