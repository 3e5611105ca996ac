"""Answers kept elsewhere, as a table: read, checked, and taken to the method's analysis."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from stats.errors import StatsError

from ..results.supplementary import hear_it
from .context import say

Row = dict[str, str]


def read(path: Path, columns: Sequence[str]) -> list[Row]:
    """The rows of a table with a header: commas, semicolons or tabs between the columns, in any order.

    Raises
    ------
    StatsError
        If it cannot be read, lacks a column, or has no rows; the message says what is wanted.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        what = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        wanted = ", ".join(columns)
        raise StatsError(f"cannot read the table {path}: {what}; give a text file with the columns {wanted}") from error
    header = text.partition("\n")[0]
    between = max(",;\t", key=header.count)
    rows = list(csv.DictReader(text.splitlines(), delimiter=between))
    named = [name.strip().lower() for name in header.split(between)]
    lacking = [column for column in columns if column not in named]
    if lacking:
        raise StatsError(f"the table {path} lacks the column {lacking[0]!r}; it needs {', '.join(columns)}")
    if not rows:
        raise StatsError(f"the table {path} has a header and no rows")
    tidy = [
        {(name or "").strip().lower(): value.strip() for name, value in row.items() if isinstance(value, str)}
        for row in rows
    ]
    for number, row in enumerate(tidy, 2):
        empty = next((column for column in columns if not row.get(column)), None)
        if empty is not None:
            raise StatsError(f"{path}, line {number}: nothing under {empty!r}; fill it in or leave the line out")
    return tidy


def panel(method: str, rows: list[Row], path: Path, alpha: float) -> dict[str, Any]:
    """Several listeners' counts: each by themselves, pooled, and how many of them can hear it."""
    from stats import beta_binomial, count_summary
    from stats import panel as pooling
    from stats.counted_methods import counted_method

    counts = [
        pooling.Count(row["listener"], _whole(row, "correct", path, n), _whole(row, "trials", path, n))
        for n, row in enumerate(rows, 2)
    ]
    chosen = counted_method(method)
    told = pooling.panel(counts, chosen.chance, alpha, chosen.alternative)
    document = told.to_document() | count_summary.summarise(method, told.correct, told.trials, alpha).to_document()
    if method != "preference":
        document["hear_it"] = hear_it(counts, float(chosen.chance), alpha)
        right, trials = [one.correct for one in counts], [one.trials for one in counts]
        if len(counts) > 1 and max(trials) > 1:
            document["beta_binomial"] = beta_binomial.fit(right, trials, chosen.chance).to_document()
    return document


def hidden_reference(rows: list[Row], path: Path, alpha: float) -> dict[str, Any]:
    """Grades against a hidden reference: the exact test, and each listener's t-test."""
    from stats import hidden_reference as grading

    by_listener: dict[str, list[float]] = {}
    for number, row in enumerate(rows, 2):
        apart = _number(row, "object", path, number) - _number(row, "reference", path, number)
        by_listener.setdefault(row["listener"], []).append(round(apart, 6))
    every = [value for values in by_listener.values() for value in values]
    p_value = grading.randomisation_test(every)
    return {
        "method": "hidden-reference",
        "verdict": "heard" if p_value <= alpha else "not shown",
        "trials": len(every),
        "p_value": p_value,
        "alpha": alpha,
        "all": asdict(grading.expertise(every)),
        "listeners": {name: asdict(grading.expertise(values)) for name, values in by_listener.items()},
    }


def multi_stimulus(rows: list[Row], path: Path, reference: str, mid_anchor: str, alpha: float) -> dict[str, Any]:
    """Grades of many stimuli: post-screening, summaries, and each pair's permutation test with Holm's correction."""
    from itertools import combinations

    from numpy.random import PCG64, Generator

    from stats import multi_stimulus as grading
    from stats.holm import holm

    grades: dict[tuple[str, str], dict[str, float]] = {}
    for number, row in enumerate(rows, 2):
        cell = grades.setdefault((row["listener"], row["item"]), {})
        if row["stimulus"] in cell:
            raise StatsError(
                f"{path}, line {number}: {row['listener']} graded {row['stimulus']!r} in {row['item']!r} twice"
            )
        cell[row["stimulus"]] = _number(row, "grade", path, number)
    stimuli = list(dict.fromkeys(row["stimulus"] for row in rows))
    for name, option in ((reference, "--reference"), (mid_anchor, "--mid-anchor")):
        if name not in stimuli:
            raise StatsError(f"no stimulus {name!r} in {path}; name it with {option} (there are {', '.join(stimuli)})")
    for (listener, item), cell in grades.items():
        if set(cell) != set(stimuli):
            missing = next(name for name in stimuli if name not in cell)
            raise StatsError(
                f"{path}: {listener} did not grade {missing!r} in {item!r}; every trial grades all stimuli"
            )
    listeners, items = ([*dict.fromkeys(pair[place] for pair in grades)] for place in (0, 1))

    def column(stimulus: str) -> dict[str, list[float | None]]:
        return {name: [grades.get((name, item), {}).get(stimulus) for item in items] for name in listeners}

    screened = grading.post_screen(column(reference), column(mid_anchor))
    kept = [cell for (name, _), cell in grades.items() if name in screened.kept]
    pairs = list(combinations(stimuli, 2)) if kept else []
    rng = Generator(PCG64(1))
    p_values = [grading.permutation_test([c[a] for c in kept], [c[b] for c in kept], rng) for a, b in pairs]
    return {
        "method": "multi-stimulus",
        "alpha": alpha,
        "kept": list(screened.kept),
        "excluded": dict(screened.excluded),
        "summaries": {name: asdict(grading.summary([cell[name] for cell in kept])) for name in stimuli if kept},
        "pairs": [
            {"stimuli": list(pair), "p_value": p, "p_holm": q}
            for pair, p, q in zip(pairs, p_values, holm(p_values), strict=True)
        ],
    }


def round_robin(rows: list[Row], path: Path, alpha: float) -> dict[str, Any]:
    """Pairwise choices: whether all are alike, and the Bradley-Terry abilities with the order effect."""
    from numpy.random import PCG64, Generator

    from stats import bradley_terry
    from stats import round_robin as choices

    setups = list(dict.fromkeys(name for row in rows for name in (row["first"], row["second"])))
    won: dict[tuple[int, int], list[int]] = {}
    for number, row in enumerate(rows, 2):
        if row["chosen"] not in (row["first"], row["second"]) or row["first"] == row["second"]:
            raise StatsError(f"{path}, line {number}: chosen {row['chosen']!r} is not one of the two that were heard")
        cell = won.setdefault((setups.index(row["first"]), setups.index(row["second"])), [0, 0])
        cell[0 if row["chosen"] == row["first"] else 1] += 1
    pairs: dict[tuple[int, int], tuple[float, int]] = {}
    for (i, j), (first, second) in won.items():
        low, high = sorted((i, j))
        had, of = pairs.get((low, high), (0, 0))
        pairs[low, high] = (had + (first if i == low else second), of + first + second)
    p_value = choices.equality_test(pairs, Generator(PCG64(1)))
    fit = bradley_terry.fit([bradley_terry.Comparison(i, j, *cell) for (i, j), cell in won.items()], order_effect=True)
    return {
        "method": "round-robin",
        "verdict": "heard" if p_value <= alpha else "not shown",
        "trials": len(rows),
        "p_value": p_value,
        "alpha": alpha,
        "setups": setups,
        "bradley_terry": fit.to_document(),
    }


def tell(document: dict[str, Any]) -> None:
    """A table's analysis in words."""
    if document["method"] == "multi-stimulus":
        for name, own in document["summaries"].items():
            say(f"{name}: median {own['median']:g} (hinges {own['q1']:g} to {own['q3']:g}), mean {own['mean']:.1f}")
        for pair in document["pairs"]:
            say(f"{' against '.join(pair['stimuli'])}: p = {pair['p_value']:.4g}, Holm {pair['p_holm']:.4g}")
        for listener, why in document["excluded"].items():
            say(f"Left out by post-screening: {listener}, who {why}.")
        return
    alpha = f"(alpha {document['alpha']:g})"
    say(f"{document['trials']} trials: {document['verdict']}, p = {document['p_value']:.4g} {alpha}.")
    if document["method"] == "hidden-reference":
        for name, own in {"all": document["all"], **document["listeners"]}.items():
            ends = "" if own["low"] is None else f" (95 % {own['low']:.2f} to {own['high']:.2f})"
            say(f"  {name}: mean difference grade {own['mean']:.2f}{ends}, one-sided t-test p = {own['p_value']:.4g}")
        return
    fit = document["bradley_terry"]
    for name, share, ability, error in zip(
        document["setups"], fit["shares"], fit["abilities"], fit["errors"], strict=True
    ):
        say(f"  {name}: share {share:.3f}, ln ability {ability:.3f} (± {error:.3f})")
    if fit["note"]:
        say(f"  {fit['note']}.")


def _whole(row: Row, column: str, path: Path, number: int) -> int:
    try:
        return int(row[column])
    except ValueError:
        raise StatsError(f"{path}, line {number}: {row[column]!r} under {column!r} is no whole number") from None


def _number(row: Row, column: str, path: Path, number: int) -> float:
    try:
        return float(row[column].replace(",", "."))
    except ValueError:
        raise StatsError(f"{path}, line {number}: {row[column]!r} under {column!r} is no number") from None
