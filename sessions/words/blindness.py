"""The three labels of a word: said in a blind trial, said to be blind, sighted. Pure.

In a blind trial is only what was said, in a session that counts, of something whose identity the trial hid: X of an
ABX, say, and not A or B, which are named. What somebody says was blind nobody can check, nor what was said in practice,
whose keys stand in the casebook. All else is sighted. No other words are used for these anywhere.

In a trial set apart (a control, or one of a known difference) the trial hid what even a named label stood for: in a
control A may be the second setup. So nothing said in it is sighted; but as all was the same there, or was made to
differ, it is told apart, with what played, and counts for no setup. While the plan runs nobody may know which trials
these are: until its end what was said of a named label is called sighted, the less it claims.

A correction is made outside of any trial, so it never counts as said in a blind one: one made after the plan's end,
when the keys are told, is sighted; before it, of what the trial hid, nobody can check it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from .corrections import AFTER_THE_END
from .log import LoggedWord

IN_A_BLIND_TRIAL = "in a blind trial"
SAID_TO_BE_BLIND = "said to be blind"
SIGHTED = "sighted"
LABELS = (IN_A_BLIND_TRIAL, SAID_TO_BE_BLIND, SIGHTED)

IN_A_CONTROL = "in a control trial"
OF_A_KNOWN_DIFFERENCE = "in a trial of the known difference"


@dataclass(frozen=True)
class TrialSaidIn:
    """What is known of a trial in which words were said.

    Attributes
    ----------
    named
        The labels whose setup the listener knew.
    counts
        Whether its session counts.
    heard
        What was behind each label, as far as it may be told: its name, and the setup's identifier, None where it is no
        setup (an anchor, a known difference).
    apart
        Of a trial set apart, once that may be told: where its words were said, as `IN_A_CONTROL`; else empty.
    """

    named: Collection[str]
    counts: bool
    heard: Mapping[str, tuple[str, str | None]] = field(default_factory=dict)
    apart: str = ""


@dataclass(frozen=True)
class LabelledWord:
    """A word with its label, and what it was said of as far as that may be told.

    Attributes
    ----------
    setup, setup_id
        The setup's name and identifier. Of an anchor there is a name alone, and neither of a trial set apart.
    apart
        Of a trial set apart: what played, and in which kind of trial; else empty.
    remark
        That it corrects another, and when; or that it was corrected or taken back. Else empty.
    """

    word: LoggedWord
    label: str
    setup: str | None
    setup_id: str | None = None
    apart: str = ""
    remark: str = ""

    @property
    def of(self) -> str:
        """What it was said of, in words."""
        if self.apart:
            return self.apart
        if self.setup is not None:
            return self.setup
        return f"{self.word.stimulus}, told when the plan is over" if self.word.stimulus else "-"


def label(word: LoggedWord, trial: TrialSaidIn | None, corrected: str = "") -> str:
    """How a word was said; `trial` is the one it was said in, None where it was said outside of any.

    `corrected` says when a correction was made, in the words of `corrections`.

    Examples
    --------
    >>> said = LoggedWord("w", "", "Ada", None, None, "t", "X", "bright", 3, None, True, "", None, False)
    >>> label(said, TrialSaidIn(named=("A", "B"), counts=True)), label(said, None)
    ('in a blind trial', 'said to be blind')
    """
    if corrected == AFTER_THE_END:
        return SIGHTED
    if trial is None or word.stimulus is None:
        return SAID_TO_BE_BLIND if word.blind else SIGHTED
    if word.stimulus in trial.named and not trial.apart:
        return SIGHTED
    return IN_A_BLIND_TRIAL if trial.counts and word.corrects is None else SAID_TO_BE_BLIND


def labelled(
    word: LoggedWord, trials: Mapping[str, TrialSaidIn], corrections: Mapping[str, str] | None = None
) -> LabelledWord:
    """A word with its label.

    Parameters
    ----------
    trials
        By the identifiers of their rows.
    corrections
        When each correction was made, in the words of `corrections`, by its word's identifier.
    """
    trial, corrected = trials.get(word.trial or ""), (corrections or {}).get(word.id, "")
    how, remark = label(word, trial, corrected), _remark(word, corrected)
    told = trial.heard.get(word.stimulus or "") if trial else None
    if trial and trial.apart and told:
        return LabelledWord(word, how, None, None, f"{told[0]}, {trial.apart}", remark)
    name, setup_id = (word.setup, word.setup_id) if word.setup else told or (None, None)
    return LabelledWord(word, how, name, setup_id, remark=remark)


def _remark(word: LoggedWord, corrected: str) -> str:
    corrects = ", ".join(filter(None, [f"corrects {word.corrects}", corrected])) if word.corrects else ""
    later = "taken back" if word.taken_back else "corrected later" if word.corrected else ""
    return "; ".join(filter(None, [corrects, later]))
