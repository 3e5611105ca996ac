"""Words of a claim that say more than its evidence: each with the reason and a gentler wording. Pure.

The list, `wording.csv`, is our own, and English. It finds words and not meanings: what it marks is to be read again,
and what it does not mark may still say too much.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ...results.how_answered import MOST_NAMED, listed

FOUND_BY_A_LIST = (
    "Words that say too much are found by a list, which is English: "
    "a sentence that is not marked may still say too much."
)


@dataclass(frozen=True)
class Bearing:
    """What the evidence of a claim can bear.

    Attributes
    ----------
    listeners
        Whose answers and words it rests on, by name.
    blind_test
        Whether a blind test that counts stands behind it.
    preference_test
        Whether such a test asked which one is preferred.
    measured
        Whether a curve or a maker's fact is named.
    sighted_words
        Whether it rests on words and all of them were said sighted.
    not_shown, nothing_shown
        Whether it rests on a test that did not show something; whether that, or evidence that does not bear it.
    relative_curves
        Whether bands of curves are all that tells of its level: they are compared in shape.
    makers_word
        Whether a maker's statement that no measurement agrees with is all it rests on.
    setups
        What it is about, by name.
    asked
        Who was asked in its tests, by name, whether their answers count or not.
    """

    listeners: frozenset[str] = frozenset()
    blind_test: bool = False
    preference_test: bool = False
    measured: bool = False
    sighted_words: bool = False
    not_shown: bool = False
    nothing_shown: bool = False
    relative_curves: bool = False
    makers_word: bool = False
    setups: frozenset[str] = frozenset()
    asked: frozenset[str] = frozenset()

    @property
    def who(self) -> str:
        """Whose evidence it is, as a gentler wording names them: of several no one by themselves.

        >>> Bearing(frozenset({"Ada"})).who, Bearing(frozenset({"Bo", "Ada"})).who, Bearing().who
        ('Ada', 'Ada and Bo, taken together,', 'those who listened')
        """
        names = sorted(self.listeners)
        if not names:
            return "those who listened"
        if len(names) == 1:
            return names[0]
        return f"{listed(names) if len(names) <= MOST_NAMED else f'the {len(names)} who listened'}, taken together,"


@dataclass(frozen=True)
class Overstated:
    """Words that say more than the evidence: as they stand in the sentence, why, and what could be said instead.

    Without words it is the sentence as a whole, for what it leaves out.
    """

    words: str
    reason: str
    gentler: str

    @property
    def told(self) -> str:
        """The whole in one line."""
        words = f'"{self.words}": ' if self.words else ""
        return f"{words}{self.reason}; say rather: {self.gentler}"


HEARD, NOT_SHOWN_THAT = "{who} heard it", "in this test it was not shown that"
APPLIES: Mapping[str, Callable[[Bearing], bool]] = {
    "always": lambda bearing: True,
    "one listener": lambda bearing: len(bearing.listeners) == 1,
    "sighted words": lambda bearing: bearing.sighted_words and not bearing.blind_test,
    "no blind test": lambda bearing: not bearing.blind_test,
    "nothing measured": lambda bearing: not bearing.measured,
    "no preference test": lambda bearing: not bearing.preference_test,
    "a preference test": lambda bearing: bearing.preference_test,
    "relative curves": lambda bearing: bearing.relative_curves,
}
"""When a row of the list applies, by what its column says."""


@dataclass(frozen=True)
class Rule:
    """A row of the list: words, when they say too much, and beside which other words they do not.

    In `gentler`, {who} stands for whose evidence it is.
    """

    pattern: re.Pattern[str]
    when: str
    unless: re.Pattern[str] | None
    reason: str
    gentler: str

    def gentler_for(self, bearing: Bearing) -> str:
        """The gentler wording as the evidence can bear it."""
        gentler = f"{NOT_SHOWN_THAT} {HEARD}" if bearing.nothing_shown and self.gentler == HEARD else self.gentler
        return gentler.replace("{who}", bearing.who).rstrip(",")


@cache
def rules() -> tuple[Rule, ...]:
    """The list, in its order."""
    text = (Path(__file__).with_name("wording.csv")).read_text(encoding="utf-8")
    return tuple(
        Rule(
            re.compile(row["wording"], re.IGNORECASE),
            row["when"],
            re.compile(row["unless"], re.IGNORECASE) if row["unless"] else None,
            row["says more than"],
            row["gentler"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def overstated(text: str, bearing: Bearing) -> list[Overstated]:
    """What of a sentence says more than its evidence can bear, in the order of the list; each reason once.

    >>> [one.words for one in overstated("Everybody hears it, because I measured it.", Bearing(measured=True))]
    ['Everybody', 'because']
    >>> overstated("On drums I heard a difference.", Bearing(frozenset({"Ada"}), blind_test=True))
    []
    """
    found, plain = [], text.replace("\u2019", "'")
    for rule in rules():
        match = rule.pattern.search(plain)
        if match is None or (rule.unless and rule.unless.search(plain)):
            continue
        if APPLIES[rule.when](bearing):
            found.append(Overstated(match[0], rule.reason, rule.gentler_for(bearing)))
    return found
