"""The planned test of a round robin, and what Bradley-Terry, ranks and triads say beside it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from stats import bradley_terry, circular_triads, rank_tests, round_robin
from stats.errors import StatsError

from ..plans.methods import pairs
from ..plans.plan import Plan
from .answers import Answered, Sheet
from .outcome import Finding, ListenerCount


def found(plan: Plan, sheets: Sequence[Sheet], planned: int) -> Finding:
    """What the planned test found; comparisons that were not answered count half for each setup."""
    from numpy.random import PCG64, Generator

    answered = sum(len(sheet.counted) for sheet in sheets)
    setups = len(plan.setups)
    wins = _wins(sheets, setups)
    per_pair = planned // len(pairs(setups))
    stated = {pair: (wins[pair] + (per_pair - wins[pair] - wins[pair[::-1]]) / 2, per_pair) for pair in pairs(setups)}
    p_value = round_robin.equality_test(stated, Generator(PCG64(plan.seed)))
    names = plan.places
    totals = {name: sum(wins[place, other] for other in range(setups) if other != place)
              for place, name in enumerate(names)}  # fmt: skip
    reached = p_value <= plan.alpha
    best = max(totals.values())
    leaders = [name for name, won in totals.items() if won == best]
    return Finding(
        reached=reached,
        complete=answered == planned,
        p_value=p_value,
        trials=planned,
        answered=answered,
        preferred=leaders[0] if reached and len(leaders) == 1 else None,
        listeners=[ListenerCount(s.listener, s.planned, len(s.counted), None, 1.0) for s in sheets],
        analysis={
            "wins": {
                names[one]: {names[two]: wins[one, two] for two in range(setups) if two != one} for one in range(setups)
            },
            "totals": totals,
            "abilities": _abilities(sheets, names),
            "consistency": {sheet.listener: _consistency(sheet, setups) for sheet in sheets},
            "agreement": _agreement(sheets, setups),
            "friedman": _friedman(sheets, setups),
            "durbin": _durbin(sheets),
        },
    )


def winner_loser(one: Answered) -> tuple[int, int]:
    """The places of the setup chosen and of the other."""
    other = "2" if one.answer == "1" else "1"
    return one.key[one.answer], one.key[other]


def _wins(sheets: Sequence[Sheet], setups: int) -> dict[tuple[int, int], int]:
    wins = {(one, two): 0 for one in range(setups) for two in range(setups) if one != two}
    for sheet in sheets:
        for one in sheet.counted:
            wins[winner_loser(one)] += 1
    return wins


def _abilities(sheets: Sequence[Sheet], names: Sequence[str]) -> dict[str, Any] | None:
    counts: dict[tuple[int, int], list[int]] = {}
    for sheet in sheets:
        for one in sheet.counted:
            cell = counts.setdefault((one.key["1"], one.key["2"]), [0, 0])
            cell[0 if one.answer == "1" else 1] += 1
    comparisons = [bradley_terry.Comparison(i, j, won, lost) for (i, j), (won, lost) in sorted(counts.items())]
    try:
        fit = bradley_terry.fit(comparisons, order_effect=True)
    except StatsError as error:
        return {"note": str(error)}
    return fit.to_document() | {"setups": list(names)}


def _preferences(sheet: Sheet, setups: int) -> list[list[int]]:
    table = [[0] * setups for _ in range(setups)]
    for one in sheet.counted:
        won, lost = winner_loser(one)
        table[won][lost] += 1
    return table


def _consistency(sheet: Sheet, setups: int) -> dict[str, Any] | None:
    """Circular triads in what the listener mostly preferred; None where a pair was even or not heard."""
    table = _preferences(sheet, setups)
    if any(table[i][j] == table[j][i] for i in range(setups) for j in range(i)):
        return None
    mostly = [[int(table[i][j] > table[j][i]) for j in range(setups)] for i in range(setups)]
    return asdict(circular_triads.circular_triads(mostly))


def _agreement(sheets: Sequence[Sheet], setups: int) -> dict[str, Any] | None:
    """Kendall's agreement of listeners, each with what they mostly preferred; None below two of them."""
    judged = []
    for sheet in sheets:
        table = _preferences(sheet, setups)
        if all(table[i][j] != table[j][i] for i in range(setups) for j in range(i)):
            judged.append(table)
    if len(judged) < 2:
        return None
    counts = [[sum(table[i][j] > table[j][i] for table in judged) for j in range(setups)] for i in range(setups)]
    return asdict(circular_triads.agreement(counts))


def _friedman(sheets: Sequence[Sheet], setups: int) -> dict[str, Any] | None:
    """Friedman's test of each listener's numbers of choices; None below three listeners."""
    if len(sheets) < 3:
        return None
    scores = [[sum(row) for row in _preferences(sheet, setups)] for sheet in sheets]
    try:
        return asdict(rank_tests.friedman(scores))
    except StatsError:
        return None


def _durbin(sheets: Sequence[Sheet]) -> dict[str, Any] | None:
    """Durbin's test with every comparison as a block of two; None while the pairs are not equally heard."""
    blocks, ranks = [], []
    for sheet in sheets:
        for one in sheet.counted:
            won, lost = winner_loser(one)
            blocks.append([won, lost])
            ranks.append([2, 1])
    try:
        found = rank_tests.durbin(blocks, ranks)
    except (StatsError, ValueError):
        return None
    return {"chi_square": found.chi_square, "freedom": found.freedom, "p_value": found.p_value}
