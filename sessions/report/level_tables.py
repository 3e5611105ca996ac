"""The levels that were read for a report: one table for each match sheet, for all plans that rest on it. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..plans.plan_parts import PlannedSetup
from ..preparation.match_evidence import PairUncertainty
from ..preparation.match_sheet import MatchedSetup, MatchSheet
from . import names_now
from .contents import Part


@dataclass(frozen=True)
class LevelsOf:
    """One passage: its setups as they were read, and the most that is left between any two, with its uncertainty."""

    passage: str
    setups: Sequence[MatchedSetup]
    left: float
    uncertainty: float


@dataclass(frozen=True)
class LevelTable:
    """What one match sheet says of all setups and passages of the plans that rest on it, under a number of its own.

    `names` are those on the sheet that the plans do not use, each with the one that they use.
    """

    number: int
    by: str
    sheet: MatchSheet
    plans: Sequence[str]
    setups: Sequence[PlannedSetup]
    passages: Sequence[LevelsOf]
    names: Mapping[str, str] = field(default_factory=dict)


def level_tables(parts: Sequence[Part]) -> dict[str, LevelTable]:
    """The tables, in the order of the plans, by their sheet's hash; none where a plan rests on no sheet."""
    resting: dict[str, list[Part]] = {}
    for part in parts:
        if part.sheet is not None and part.plan.match.sheet is not None:
            resting.setdefault(part.plan.match.sheet, []).append(part)
    return {sheet: _table(number, own) for number, (sheet, own) in enumerate(resting.items(), 1)}


def uncertainties(part: Part) -> list[PairUncertainty]:
    """What is left unsure between each two of a plan's setups, as they were read once for all passages."""
    if part.sheet is None or not part.sheet.passages:
        return []
    read = part.sheet.passages[0]
    names = {own.setup for own in read.setups_of([setup.id for setup in part.plan.setups])}
    now = names_now.on_sheet(part.sheet, part.plan)
    return [
        replace(pair, setups=(now.get(pair.setups[0], pair.setups[0]), now.get(pair.setups[1], pair.setups[1])))
        for pair in read.pairs
        if set(pair.setups) <= names
    ]


def _table(number: int, parts: Sequence[Part]) -> LevelTable:
    sheet = parts[0].sheet
    assert sheet is not None
    setups = {setup.id: setup for part in parts for setup in part.plan.setups}
    wanted = {passage.id: passage.name for part in parts for passage in part.plan.passages}
    names = {old: new for part in parts for old, new in names_now.on_sheet(sheet, part.plan).items()}
    rows = []
    for stated in sheet.passages:
        if stated.prepared.passage in wanted:
            left, uncertainty = stated.left_between(list(setups))
            read = [replace(own, setup=setups[own.id].name) for own in stated.setups_of(list(setups))]
            rows.append(LevelsOf(wanted[stated.prepared.passage], read, left, uncertainty))
    plans = [part.plan.name for part in parts]
    return LevelTable(number, parts[0].plan.match.by, sheet, plans, list(setups.values()), rows, names)
