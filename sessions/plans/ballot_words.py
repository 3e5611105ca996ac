"""The words of a ballot, before they are sealed: how many, and no two of them names of one thing. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from unicodedata import normalize

from ..errors import PlanError
from ..words.lexicon import ASK_WHAT_WAS_HEARD, Lexicon

LEAST, MOST = 2, 16
LEAST_ADVISED, MOST_ADVISED = 8, 12  # the usual length of such lists: common practice, no source
LONGEST = 20  # letters of a word, so that 16 of them have room on the listener's screen


def checked(words: Sequence[str], lexicon: Lexicon) -> tuple[str, ...]:
    """The words as they are sealed, in the order given.

    Raises
    ------
    PlanError
        If there are too few or too many, one is empty or too long, two stand for the same, or one says whether
        something was liked.
    """
    given = tuple(normalize("NFC", " ".join(word.split())) for word in words)
    if not LEAST <= len(given) <= MOST:
        raise PlanError(
            f"a ballot has {LEAST} to {MOST} words, {LEAST_ADVISED} to {MOST_ADVISED} at best; got {len(given)}; name "
            "them with --word W (repeat) or --words FILE or a,b,c"
        )
    for word in given:
        if not word.isprintable() or not 1 <= len(word) <= LONGEST:
            raise PlanError(f"a word of a ballot has 1 to {LONGEST} letters; got {word!r}")
    for liked in liking(given, lexicon):
        raise PlanError(f"{liked!r} {ASK_WHAT_WAS_HEARD}")
    for one, other, headword in same(given, lexicon):
        raise PlanError(f"{one!r} and {other!r} are the same word ({headword}); keep one of them")
    return given


def liking(words: Sequence[str], lexicon: Lexicon) -> list[str]:
    """Those that say whether something was liked."""
    return [word for word in words if lexicon.likes(word)]


def same(words: Sequence[str], lexicon: Lexicon) -> list[tuple[str, str, str]]:
    """Those that stand for what one before them stands for: that one, the word, and the headword of both."""
    first, found = dict[str, str](), list[tuple[str, str, str]]()
    for word in words:
        headword = lexicon.headword(word)
        if headword in first:
            found.append((first[headword], word, headword))
        first.setdefault(headword, word)
    return found


def unknown(words: Sequence[str], lexicon: Lexicon) -> list[str]:
    """Which words the lexicon lacks, in a line, with the near ones; none where it has all of them."""
    lacking = [word for word in words if lexicon.find(word) is None]
    if not lacking:
        return []
    near = [f" {word!r}: {meant}" for word in lacking if (meant := lexicon.meant(word))]
    are = "is" if len(lacking) == 1 else "are"
    return [
        f"{', '.join(lacking)} {are} not in the lexicon: ticked as typed, and nothing is known of where that lies."
        + "".join(one if one.endswith("?") else f"{one}." for one in near)
    ]


def advice(words: Sequence[str]) -> list[str]:
    """What is to be said of a list that is short or long."""
    if not words or LEAST_ADVISED <= len(words) <= MOST_ADVISED:
        return []
    why = (
        "fewer leave little to choose between"
        if len(words) < LEAST_ADVISED
        else "each further one makes all harder to find"
    )
    return [f"{len(words)} words: {LEAST_ADVISED} to {MOST_ADVISED} are advised; {why}."]
