"""What a table of grades or of choices comes to: the analysis of a plan's own answers, as documents and sentences.

In a multi-stimulus table all that is no anchor is a setup, and Holm's correction runs over the pairs of setups, as in a
plan: `results.ratings.quality_grades` says why.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stats.count_summary import HEARD, NOT_SHOWN
from stats.errors import StatsError

from ..plans.methods import table
from ..plans.methods.graded import GradedMethod
from ..plans.methods.method import Method
from . import answer_tables
from .context import counted

if TYPE_CHECKING:
    from ..results.outcome import Outcome

Said = tuple[dict[str, Any], list[str]]
"""The document for programs, and its sentences for people."""

COLUMNS = {
    "difference grades": answer_tables.DIFFERENCES,
    "quality grades": answer_tables.QUALITIES,
    "pairs": answer_tables.CHOICES,
    "ballots": answer_tables.TICKS,
}
METHODS = {name: method for name, method in table.METHODS.items() if method.analysis in ("count", *COLUMNS)}
"""The methods whose answers can be tallied; of words the ticks of two setups, not ratings."""
VOID = "void"
LOW_ANCHOR, MID_ANCHOR = "anchor 3.5 kHz", "anchor 7 kHz"


def tallied(
    method: Method,
    path: Path | None,
    *,
    alpha: float,
    reference: str,
    mid_anchor: str,
    anchors: Sequence[str],
    **_: Any,
) -> Said:
    """The table's analysis by the method's own test.

    Raises
    ------
    StatsError
        If there is no table, or something in it does not fit.
    """
    if path is None:
        raise StatsError(f"{method.name} takes --file TABLE with the columns {', '.join(COLUMNS[method.analysis])}")
    if isinstance(method, GradedMethod) and method.analysis == "difference grades":
        return _difference_grades(method, answer_tables.reference_pairs(path, method.scale), alpha)
    if isinstance(method, GradedMethod):
        names, trials = answer_tables.quality_trials(path, method.scale)
        return _quality_grades(method, _Stimuli.of(names, reference, mid_anchor, anchors, path), trials, alpha)
    if method.analysis == "ballots":
        return _ticks(method, answer_tables.word_counts(path), alpha)
    return _choices(method, answer_tables.choices(path), alpha)


def _ticks(method: Method, counts: Sequence[answer_tables.WordCount], alpha: float) -> Said:
    """Each word by the exact test of trials in which it was ticked of one alone; Holm's correction over the words."""
    from stats.holm import holm
    from stats.paired_ticks import exact_p

    notes = _not_asked_for([one.word for one in counts])
    p_values = [exact_p(one.first_only, one.second_only) for one in counts]
    words = [
        asdict(one) | {"p_value": p_value, "p_holm": p_holm, "heard": p_holm <= alpha}
        for one, p_value, p_holm in zip(counts, p_values, holm(p_values), strict=True)
    ]
    heard = [one for one in words if one["heard"]]
    least = min(one["p_holm"] for one in words)
    document = {
        "method": method.name,
        "verdict": HEARD if heard else NOT_SHOWN,
        "p_value": least,
        "alpha": alpha,
        "words": words,
        "notes": notes,
    }
    sentences = [
        f"{counted(len(words), 'word')}: {document['verdict']}, smallest p with Holm's correction {least:.4g} "
        f"(alpha {alpha:g})."
    ]
    for one in words:
        more = "the first" if one["first_only"] > one["second_only"] else "the second"
        side = f", more often of {more}" if one["heard"] else ""
        sentences.append(
            f"  {one['word']}: of the first alone {one['first_only']}, of the second alone {one['second_only']}; "
            f"exact test p = {one['p_value']:.4g}, Holm {one['p_holm']:.4g}{side}"
        )
    return document, [*sentences, *notes]


def _not_asked_for(words: Sequence[str]) -> list[str]:
    """Which words a plan would have refused, by the lexicon that comes with the program.

    They are counted all the same: to leave a word out once its answers are known would select.
    """
    from ..plans import ballot_words
    from ..words.lexicon import shipped

    lexicon = shipped()
    return [
        *(
            f"Beware: {word!r} says whether it was liked, not what was heard; plan words refuses it."
            for word in ballot_words.liking(words, lexicon)
        ),
        *(
            f"Beware: {one!r} and {other!r} are the same word ({headword}), tested twice here; plan words refuses that."
            for one, other, headword in ballot_words.same(words, lexicon)
        ),
    ]


def _difference_grades(method: Method, pairs: Sequence[answer_tables.ReferencePair], alpha: float) -> Said:
    from ..results.ratings import Difference, difference_grades

    given: dict[str, list[Difference]] = {}
    for pair in pairs:
        given.setdefault(pair.listener, []).append(Difference("", round(pair.object - pair.reference, 6)))
    found = difference_grades(given, {name: len(own) for name, own in given.items()}, len(pairs), alpha)
    every = found.every
    assert every is not None  # a table holds all of its trials
    document = _verdict(method, found, alpha) | {
        "all": asdict(every),
        "listeners": {name: asdict(own) for name, own in found.by_listener.items()},
    }
    sentences = [_verdict_in_words(document)]
    for name, own in {"all": every, **found.by_listener}.items():
        ends = "" if own.low is None else f" (95 % {own.low:.2f} to {own.high:.2f})"
        by_itself = "" if own.p_value is None else f", exact one-sided randomisation test p = {own.p_value:.4g}"
        sentences.append(f"  {name}: mean difference grade {own.mean:.2f}{ends}{by_itself}")
    return document, sentences


@dataclass(frozen=True)
class _Stimuli:
    """What the stimuli of a multi-stimulus table are: setups, the hidden reference first; anchors."""

    setups: tuple[str, ...]
    anchors: tuple[str, ...]
    mid_anchor: str

    @classmethod
    def of(cls, names: Sequence[str], reference: str, mid_anchor: str, others: Sequence[str], path: Path) -> _Stimuli:
        wanted = [(reference, "--reference"), (mid_anchor, "--mid-anchor"), *((name, "--anchor") for name in others)]
        for name, option in wanted:
            if name not in names:
                raise StatsError(
                    f"no stimulus {name!r} in {path}; name it with {option} (there are {', '.join(names)})"
                )
        anchors = {mid_anchor, *(others or [LOW_ANCHOR])}
        if reference in anchors:
            raise StatsError(f"{reference!r} is named as the reference and as an anchor; it can be one of them")
        setups = [reference, *(name for name in names if name not in anchors and name != reference)]
        return cls(tuple(setups), tuple(name for name in names if name in anchors), mid_anchor)

    @property
    def places(self) -> tuple[str, ...]:
        """All of them in the order of a plan's places."""
        return self.setups + self.anchors


def _quality_grades(
    method: Method, stimuli: _Stimuli, trials: Sequence[answer_tables.QualityTrial], alpha: float
) -> Said:
    from ..results.ratings import quality_grades

    given: dict[str, dict[tuple[str, int], dict[int, float]]] = {}
    for trial in trials:
        by_place = {place: trial.grades[name] for place, name in enumerate(stimuli.places)}
        given.setdefault(trial.listener, {})[trial.item, 1] = by_place
    mid_anchor = stimuli.places.index(stimuli.mid_anchor)
    found = quality_grades(given, stimuli.places, len(stimuli.setups), mid_anchor, len(trials), alpha)
    compared = found.pairs if found.kept else ()
    document = _verdict(method, found, alpha) | {
        "kept": list(found.kept),
        "excluded": dict(found.excluded),
        "missed_reference": dict(found.missed_reference),
        "anchors": list(stimuli.anchors),
        "summaries": {name: asdict(own) for name, own in found.summaries.items()},
        "pairs": [
            {"stimuli": list(one.setups), "p_value": one.p_value, "p_error": one.p_error, "p_holm": one.p_holm}
            for one in compared
        ],
    }
    return document, [
        _verdict_in_words(document),
        *(f"Void because: {reason}." for reason in found.void),
        *(
            f"{name}: median {own.median:g} (hinges {own.q1:g} to {own.q3:g}), mean {own.mean:.1f}"
            for name, own in found.summaries.items()
        ),
        *(f"{' against '.join(one.setups)}: p = {one.p_value:.4g}, Holm {one.p_holm:.4g}" for one in compared),
        *(f"Left out by post-screening: {listener}, who {why}." for listener, why in found.excluded.items()),
        *(f"Not left out, but to be known: {listener} {why}." for listener, why in found.missed_reference.items()),
    ]


def _choices(method: Method, choices: Sequence[answer_tables.Choice], alpha: float) -> Said:
    from ..results.paired_comparison import Choice, paired_comparison

    setups = sorted({name for choice in choices for name in (choice.first, choice.second)})
    given: dict[str, list[Choice]] = {}
    compared: Counter[tuple[int, int]] = Counter()
    for choice in choices:
        first, second = setups.index(choice.first), setups.index(choice.second)
        given.setdefault(choice.listener, []).append(Choice(first, second, choice.first_chosen))
        compared[min(first, second), max(first, second)] += 1
    planned_each = {name: len(own) for name, own in given.items()}
    found = paired_comparison(given, planned_each, setups, compared, alpha, _seed(choices))
    if found.abilities is None:
        raise StatsError(found.no_fit)
    document = _verdict(method, found, alpha) | {"p_error": found.p_error, "p_draws": found.p_draws}
    document |= {"setups": setups, "bradley_terry": found.abilities.to_document()}
    fit = found.abilities
    sentences = [_verdict_in_words(document)]
    for name, share, ability, error in zip(setups, fit.shares, fit.abilities, fit.errors, strict=True):
        sentences.append(f"  {name}: share {share:.3f}, ln ability {ability:.3f} (± {error:.3f})")
    if fit.note:
        sentences.append(f"  {fit.note}.")
    return document, sentences


def _verdict(method: Method, found: Outcome, alpha: float) -> dict[str, Any]:
    return {
        "method": method.name,
        "verdict": VOID if found.void else HEARD if found.reached else NOT_SHOWN,
        "void_reasons": list(found.void),
        "trials": found.trials,
        "p_value": found.p_value,
        "alpha": alpha,
    }


def _verdict_in_words(document: dict[str, Any]) -> str:
    if document["p_value"] is None:
        return f"{document['trials']} trials: {document['verdict']}."
    return (
        f"{document['trials']} trials: {document['verdict']}, p = {document['p_value']:.4g}"
        f"{_drawn(document)} (alpha {document['alpha']:g})."
    )


def _drawn(document: dict[str, Any]) -> str:
    """What is to be said of a p-value that was drawn; nothing where it is exact."""
    draws, error = document.get("p_draws"), document.get("p_error")
    return "" if draws is None else f" (estimated by {draws} random draws, standard error {error:.2g})"


def _seed(rows: Sequence[object]) -> int:
    """The seed of what is drawn: it follows from the table's content, so that the same answers give the same p."""
    return int.from_bytes(hashlib.sha256(repr(rows).encode()).digest()[:8], "big")
