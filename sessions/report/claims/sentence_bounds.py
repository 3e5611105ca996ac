"""Bounds of the evidence that a sentence has to say itself, whatever its words are. Pure.

A list of words finds only what somebody thought of. Where the evidence is narrow the rule is turned round: the
sentence is marked unless it says how narrow it is. A test that did not show something bears that it was not shown, a
maker's statement that the maker states it, and any evidence tells of its own setups and listeners alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from ...results.how_answered import listed
from .wording import NOT_SHOWN_THAT, Bearing, Overstated

SAYS_NOT_SHOWN = re.compile(
    r"\b(?:not|never|cannot|nothing|neither|nobody|no (?:\w+ ){1,6}?)"
    r"(?: (?:be|been|was|were|is|has|have|could|\w+ly))* ?(?:shown?|demonstrated|established)\b"
    r"|n't (?:be |been )?(?:shown?|demonstrated|established)\b|\bfailed to show\b"
    r"|\b(?:not|n't) (?:say|mean|claim) that\b"
    r"|\b(?:cannot|can't|can not|could not|couldn't|did not|didn't) (?:be )?(?:tell|told|hear|heard|pick|say)\b"
    r".*\b(?:in|from|by|with) (?:this|that|the|our|my|a) (?:\w+ )?tests?\b"
    r"|\b(?:in|from|by|with) (?:this|that|the|our|my|a) (?:\w+ )?tests?\b"
    r".*\b(?:cannot|can't|can not|could not|couldn't|did not|didn't) (?:be )?(?:tell|told|hear|heard|pick|say)\b",
    re.IGNORECASE,
)
"""That something was not shown, or could not be told in this test."""

SAYS_WHO_STATES = re.compile(
    r"\b(?:makers?|manufacturers?|states?|stated|claim(?:s|ed)?|specifi\w+|specs?|rated|data ?sheet|brochure|sheet|"
    r"according to|on paper)\b",
    re.IGNORECASE,
)


SAYS_IMPRESSION = re.compile(
    r"(?<!\bjust )(?<!\bonly )(?<!\bnot )\bto (?:me|my (?:own )?ears?)\b"
    r"|\bI (?:\w+ly )?(?:find|found|think|thought|feel|felt)\b"
    r"|(?<!\bjust )(?<!\bonly )(?<!\bnot )\b(?:in|to|for) my (?:own |personal )?(?:opinion|view|impression|taste)\b"
    r"|\bmy (?:own |personal )?(?:opinion|impression|feeling) (?:is|was)\b",
    re.IGNORECASE,
)
"""That what is said is the speaker's impression."""


@dataclass(frozen=True)
class Names:
    """The setups and listeners of a casebook, by name."""

    setups: tuple[str, ...] = ()
    listeners: tuple[str, ...] = ()

    @property
    def every(self) -> tuple[str, ...]:
        """All of them."""
        return self.setups + self.listeners


def says_who_states(text: str) -> bool:
    """Whether a sentence says that a thing is what somebody states."""
    return SAYS_WHO_STATES.search(text) is not None


def says_impression(text: str) -> bool:
    """Whether a sentence says that it is an impression of whoever says it.

    >>> says_impression("To me it is boomy."), says_impression("It is boomy."), says_impression("Not only to me.")
    (True, False, False)
    """
    return SAYS_IMPRESSION.search(text.replace("\u2019", "'")) is not None


def unsaid(text: str, bearing: Bearing, names: Names) -> list[Overstated]:
    """What a sentence leaves unsaid of its evidence, and whom and what it names that its evidence is not about.

    >>> bearing = Bearing(frozenset({"Ada"}), not_shown=True, setups=frozenset({"sallow"}))
    >>> [one.gentler for one in unsaid("They are the same to the ear.", bearing, Names())]
    ['in this test it was not shown that Ada heard a difference']
    >>> unsaid("It was not shown that Ada heard a difference.", bearing, Names())
    []
    >>> [one.words for one in unsaid("Bracken was not shown to differ.", bearing, Names(("sallow", "bracken")))]
    ['Bracken']
    """
    found, plain = [], text.replace("\u2019", "'")
    if bearing.not_shown and not SAYS_NOT_SHOWN.search(plain):
        what = "preferred one" if bearing.preference_test else "heard a difference"
        found.append(
            Overstated(
                "",
                "a test that does not show something bears no more than that it was not shown there",
                f"{NOT_SHOWN_THAT} {bearing.who} {what}",
            )
        )
    if bearing.makers_word and not says_who_states(plain):
        found.append(Overstated("", "the maker states it, and no measurement bears it out", "the maker states"))
    others = [
        *_named(plain, names.setups, bearing.setups, re.IGNORECASE),
        *_named(plain, names.listeners, bearing.listeners | bearing.asked, 0),
    ]
    if others and (bearing.setups or bearing.listeners or bearing.asked):
        about = _about(bearing)
        found += [Overstated(one, f"the evidence is about {about}", "name these alone") for one in others]
    return found


def _about(bearing: Bearing) -> str:
    who = sorted(bearing.listeners or bearing.asked)
    by = f"{'heard by ' if bearing.setups else ''}{listed(who)}" if who else ""
    return ", ".join(filter(None, [listed(sorted(bearing.setups)) if bearing.setups else "", by]))


def _named(text: str, names: Iterable[str], own: frozenset[str], flags: int) -> list[str]:
    """Which of some names stand in a text that are none of its own; a longer name hides one that is part of it."""
    found, left = [], text
    for name in sorted(names, key=len, reverse=True):
        pattern = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", flags)
        match = pattern.search(left) if len(name) > 1 else None
        if match is None:
            continue
        left = pattern.sub(" ", left)
        if name not in own:
            found.append((match[0], text.find(match[0])))
    return [name for name, _ in sorted(found, key=lambda one: one[1])]
