"""What a table of grades or of choices comes to, by the planned test of its method: documents and sentences.

The family of a multi-stimulus test's Holm correction is every pair of setups, the hidden reference among them, and no
other pair: those are the differences the test is there to find. Anchors are controls. They are made to be graded low,
post-screening uses them to find who did not listen (ITU-R BS.1534-3, 5.1 and 4.1.2), and that one of them differs from
a setup says nothing about a setup; counted in, they would make every other comparison pay for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

from stats.count_summary import HEARD, NOT_SHOWN
from stats.errors import StatsError

from ..plans.methods.method import Method
from . import answer_tables

Said = tuple[dict[str, Any], list[str]]
"""The document for programs, and its sentences for people."""

COLUMNS = {
    "difference grades": answer_tables.DIFFERENCES,
    "quality grades": answer_tables.QUALITIES,
    "pairs": answer_tables.CHOICES,
}
LOW_ANCHOR, MID_ANCHOR = "anchor 3.5 kHz", "anchor 7 kHz"
SEED = 1  # of drawn p-values, so that the same table gives the same p


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
    if method.analysis == "difference grades":
        return _difference_grades(method, answer_tables.reference_pairs(path), alpha)
    if method.analysis == "quality grades":
        stimuli, trials = answer_tables.quality_trials(path)
        return _quality_grades(method, stimuli, trials, _Roles.of(stimuli, reference, mid_anchor, anchors, path), alpha)
    return _choices(method, answer_tables.choices(path), alpha)


def _difference_grades(method: Method, pairs: Sequence[answer_tables.ReferencePair], alpha: float) -> Said:
    from stats import hidden_reference

    differences: dict[str, list[float]] = {}
    for pair in pairs:
        differences.setdefault(pair.listener, []).append(round(pair.object - pair.reference, 6))
    every = [difference for own in differences.values() for difference in own]
    p_value = hidden_reference.randomisation_test(every)
    overall = hidden_reference.expertise(every)
    listeners = {name: hidden_reference.expertise(own) for name, own in differences.items()}
    document = _verdict(method, len(every), p_value, alpha) | {
        "all": asdict(overall),
        "listeners": {name: asdict(own) for name, own in listeners.items()},
    }
    sentences = [_verdict_in_words(document)]
    for name, own in {"all": overall, **listeners}.items():
        ends = "" if own.low is None else f" (95 % {own.low:.2f} to {own.high:.2f})"
        sentences.append(
            f"  {name}: mean difference grade {own.mean:.2f}{ends}, one-sided t-test p = {own.p_value:.4g}"
        )
    return document, sentences


@dataclass(frozen=True)
class _Roles:
    """What each stimulus of a multi-stimulus table is: the hidden reference, the mid anchor, the setups."""

    reference: str
    mid_anchor: str
    anchors: tuple[str, ...]
    setups: tuple[str, ...]

    @classmethod
    def of(cls, stimuli: Sequence[str], reference: str, mid_anchor: str, others: Sequence[str], path: Path) -> _Roles:
        named = [(reference, "--reference"), (mid_anchor, "--mid-anchor"), *((name, "--anchor") for name in others)]
        for name, option in named:
            if name not in stimuli:
                raise StatsError(
                    f"no stimulus {name!r} in {path}; name it with {option} (there are {', '.join(stimuli)})"
                )
        anchors = [mid_anchor, *others] if others else [mid_anchor, LOW_ANCHOR]
        if reference in anchors:
            raise StatsError(f"{reference!r} is the reference and cannot be an anchor as well")
        setups = tuple(name for name in stimuli if name not in anchors)
        return cls(reference, mid_anchor, tuple(name for name in stimuli if name in anchors), setups)


def _quality_grades(
    method: Method, stimuli: Sequence[str], trials: Sequence[answer_tables.QualityTrial], roles: _Roles, alpha: float
) -> Said:
    from numpy.random import PCG64, Generator

    from stats import multi_stimulus
    from stats.holm import holm

    grades = {(trial.listener, trial.item): trial.grades for trial in trials}
    listeners, items = (list(dict.fromkeys(names)) for names in zip(*grades, strict=True))

    def column(stimulus: str) -> dict[str, list[float | None]]:
        return {
            name: [grades[name, item][stimulus] if (name, item) in grades else None for item in items]
            for name in listeners
        }

    screened = multi_stimulus.post_screen(column(roles.reference), column(roles.mid_anchor))
    kept = [trial.grades for trial in trials if trial.listener in screened.kept]
    columns = {name: [own[name] for own in kept] for name in stimuli} if kept else {}
    rng = Generator(PCG64(SEED))
    pairs = list(combinations(roles.setups, 2)) if kept else []
    p_values = [multi_stimulus.permutation_test(columns[one], columns[other], rng) for one, other in pairs]
    summaries = {name: multi_stimulus.summary(own) for name, own in columns.items()}
    compared = list(zip(pairs, p_values, holm(p_values), strict=True))
    document = {
        "method": method.name,
        "alpha": alpha,
        "kept": list(screened.kept),
        "excluded": dict(screened.excluded),
        "anchors": list(roles.anchors),
        "summaries": {name: asdict(own) for name, own in summaries.items()},
        "pairs": [{"stimuli": list(pair), "p_value": p, "p_holm": q} for pair, p, q in compared],
    }
    return document, [
        *(
            f"{name}: median {own.median:g} (hinges {own.q1:g} to {own.q3:g}), mean {own.mean:.1f}"
            for name, own in summaries.items()
        ),
        *(f"{' against '.join(pair)}: p = {p:.4g}, Holm {q:.4g}" for pair, p, q in compared),
        *(f"Left out by post-screening: {listener}, who {why}." for listener, why in screened.excluded.items()),
    ]


def _choices(method: Method, choices: Sequence[answer_tables.Choice], alpha: float) -> Said:
    from numpy.random import PCG64, Generator

    from stats import bradley_terry, round_robin

    setups = list(dict.fromkeys(name for choice in choices for name in (choice.first, choice.second)))
    in_order: dict[tuple[int, int], list[int]] = {}
    for choice in choices:
        cell = in_order.setdefault((setups.index(choice.first), setups.index(choice.second)), [0, 0])
        cell[0 if choice.first_chosen else 1] += 1
    wins: dict[tuple[int, int], tuple[float, int]] = {}
    for (first, second), (won, lost) in in_order.items():
        pair = min(first, second), max(first, second)
        before, heard = wins.get(pair, (0, 0))
        wins[pair] = (before + (won if first < second else lost), heard + won + lost)
    p_value = round_robin.equality_test(wins, Generator(PCG64(SEED)))
    fit = bradley_terry.fit(
        [bradley_terry.Comparison(*pair, *cell) for pair, cell in in_order.items()], order_effect=True
    )
    document = _verdict(method, len(choices), p_value, alpha) | {
        "setups": setups,
        "bradley_terry": fit.to_document(),
    }
    sentences = [_verdict_in_words(document)]
    for name, share, ability, error in zip(setups, fit.shares, fit.abilities, fit.errors, strict=True):
        sentences.append(f"  {name}: share {share:.3f}, ln ability {ability:.3f} (± {error:.3f})")
    if fit.note:
        sentences.append(f"  {fit.note}.")
    return document, sentences


def _verdict(method: Method, trials: int, p_value: float, alpha: float) -> dict[str, Any]:
    return {
        "method": method.name,
        "verdict": HEARD if p_value <= alpha else NOT_SHOWN,
        "trials": trials,
        "p_value": p_value,
        "alpha": alpha,
    }


def _verdict_in_words(document: dict[str, Any]) -> str:
    return (
        f"{document['trials']} trials: {document['verdict']}, p = {document['p_value']:.4g} "
        f"(alpha {document['alpha']:g})."
    )
