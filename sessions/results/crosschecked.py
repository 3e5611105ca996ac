"""A word of two setups, what came of it, and its outcome beside what was measured: records alone. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..measured.band_effect import BandEffect
from ..measured.word_thresholds import AudibleFrom
from ..words.folding import folded
from ..words.lexicon import Entry

Evidence = Literal["heard", "heard among several", "not shown", "enough alone", "too few to show", "said"]
Outcome = Literal[
    "heard and measured",
    "heard, not measured",
    "heard among several and measured",
    "heard among several, not measured",
    "measured, not heard",
    "neither heard nor measured",
    "measured, enough by its ballot alone",
    "measured the other way round, enough by its ballot alone",
    "not measured, enough by its ballot alone",
    "measured, not shown; so few trials could not show it",
    "measured the other way round, not shown; so few trials could not show it",
    "not measured, not shown; so few trials could not show it",
    "said and measured",
    "said, not measured",
    "said of both alike",
    "heard, nothing measurable is known for this word",
    "heard among several, nothing measurable is known for this word",
    "said, nothing measurable is known for this word",
    "cannot be told",
]
UNDECIDED, NOTHING_KNOWN = "the measurements cannot tell", "nothing measurable is known for this word"
_SHOWN: dict[Evidence, str] = {
    "heard": "heard",
    "heard among several": "heard among several",
    "not shown": "not shown",
    "enough alone": "enough by its ballot alone",
    "too few to show": "not shown (too few trials)",
    "said": "said",
}
OUTCOMES: dict[Evidence, tuple[Outcome, Outcome]] = {  # measured, not measured
    "heard": ("heard and measured", "heard, not measured"),
    "heard among several": ("heard among several and measured", "heard among several, not measured"),
    "not shown": ("measured, not heard", "neither heard nor measured"),
    "enough alone": ("measured, enough by its ballot alone", "not measured, enough by its ballot alone"),
    "too few to show": (
        "measured, not shown; so few trials could not show it",
        "not measured, not shown; so few trials could not show it",
    ),
    "said": ("said and measured", "said, not measured"),
}
OTHER_WAY_ROUND: dict[Evidence, Outcome] = {  # measured plainly, of the setup that got the word less
    "enough alone": "measured the other way round, enough by its ballot alone",
    "too few to show": "measured the other way round, not shown; so few trials could not show it",
}
UNKNOWN: dict[Evidence, Outcome] = {
    "heard": "heard, nothing measurable is known for this word",
    "heard among several": "heard among several, nothing measurable is known for this word",
    "not shown": "cannot be told",
    "enough alone": "cannot be told",
    "too few to show": "cannot be told",
    "said": "said, nothing measurable is known for this word",
}


@dataclass(frozen=True)
class WordOfTwo:
    """What came of one word between two setups.

    Attributes
    ----------
    first
        Whether it is said of the first setup rather than of the second; None where of neither rather.
    evidence
        Shown by a blind ballot of the two, or by one of more setups, where which of them differ was told afterwards;
        asked in one and not shown; enough by that ballot alone, and not together with the other plans; asked in so few
        trials that no ticks or ratings whatever could have shown it; or only said.
    how
        The same in words, with its numbers.
    listeners
        Who ticked or said it, by name.
    ballot
        The name of the ballot's plan; empty of what was said outside of one.
    asked
        The word as its ballot asked for it, which the lexicon may have renamed or merged since; empty as above.
    labels
        How it was said outside of a ballot, each of the ways there were (`words.blindness.LABELS`).
    more
        Whether in its ballot the first got it more, shown or not; None where both alike, and of what was only said.
    """

    term: str
    first: bool | None
    evidence: Evidence
    how: str
    listeners: tuple[str, ...] = ()
    ballot: str = ""
    asked: str = ""
    labels: tuple[str, ...] = ()
    more: bool | None = None

    @property
    def name(self) -> str:
        """The word, and what was asked in its place: nobody ticked a word that was not on the ballot.

        >>> WordOfTwo("boomy", True, "heard", "", asked="thumpy").name
        'boomy (asked as thumpy)'
        """
        alike = not self.asked or folded(self.asked) == folded(self.term)
        return self.term if alike else f"{self.term} (asked as {self.asked})"


@dataclass(frozen=True)
class Crosschecked:
    """A word beside what was measured where it points.

    Attributes
    ----------
    effect
        Of the first setup less the second, in the word's band; None where nothing of the kind was measured.
    threshold_db
        What an effect must reach to be taken for audible; None where it is not known, or only an end of its interval.
    audible
        The same with its interval, whose it is, and its source.
    why
        What the outcome rests on, in a sentence.
    remark
        Where the word's band lies by how high its listeners noticed tones, in words; it changes nothing of the outcome,
        and is empty where nobody looked, or where the band lies below that.
    """

    word: WordOfTwo
    entry: Entry | None
    effect: BandEffect | None
    threshold_db: float | None
    outcome: Outcome
    why: str
    audible: AudibleFrom | None = None
    remark: str = ""

    @property
    def measured(self) -> bool:
        """Whether the difference bears the word out, whoever heard it."""
        return self.outcome.endswith("and measured") or self.outcome.startswith("measured,")

    @property
    def told(self) -> str:
        """The outcome for people: what came of the word stays told where what was measured decides nothing.

        >>> from sessions.words.lexicon import shipped
        >>> Crosschecked(WordOfTwo("bright", True, "heard", ""), shipped().find("bright"), None, None,
        ...              "cannot be told", "").told
        'heard; the measurements cannot tell'
        >>> Crosschecked(WordOfTwo("quux", None, "not shown", ""), None, None, None, "cannot be told", "").told
        'not shown; nothing measurable is known for this word'
        """
        if self.outcome != "cannot be told":
            return self.outcome
        known = self.entry is not None and self.entry.shows_in and not self.entry.likes
        return f"{_SHOWN[self.word.evidence]}; {UNDECIDED if known else NOTHING_KNOWN}"

    @property
    def rank(self) -> int:
        """Which come first where there is room for some: those heard, of these the ones that are decided."""
        if self.word.evidence not in ("heard", "heard among several"):
            return 2
        return int(self.outcome == "cannot be told")
