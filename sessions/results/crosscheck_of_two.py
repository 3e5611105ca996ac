"""Two setups' words set beside what was measured of both, from a casebook: curves, repeats, thresholds of their own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..casebook import catalogue, hearing_rows, threshold_rows
from ..casebook.catalogue import Listener, Setup
from ..casebook.store import Casebook
from ..measured import curve_records, own_reach, own_thresholds
from ..measured.band_effect import band_effects
from ..measured.beside_words import beside_words
from ..measured.conditions import ON_AXIS
from ..measured.curve_comparison import CurveComparison, compare_setups
from ..measured.word_thresholds import AudibleFrom
from ..words.lexicon import Lexicon
from .crosscheck import OwnThreshold, crosscheck, unmeasured
from .crosschecked import Crosschecked, WordOfTwo

ReachByName = Callable[[Sequence[str], float, float], str]
"""Where a band (Hz) lies by how high some listeners, by name, noticed tones; empty where nothing is to be remarked."""


@dataclass(frozen=True)
class CrosscheckOfTwo:
    """Two setups' words beside their curves.

    Attributes
    ----------
    names, words
        Of the setups; and each word.
    compared
        Their curves on axis; None where one has none.
    aside
        Thresholds that do not count.
    lacking
        Of each setup without a curve on axis that stands for it, what it has instead, in words.
    """

    names: tuple[str, str]
    compared: CurveComparison | None
    words: tuple[Crosschecked, ...]
    aside: tuple[str, ...]
    lacking: tuple[str, ...] = ()


def crosscheck_of_two(
    casebook: Casebook, setups: Sequence[Setup], words: Sequence[WordOfTwo], lexicon: Lexicon
) -> CrosscheckOfTwo:
    """Each word with its outcome, first setup less second.

    Raises
    ------
    MeasureError
        If their curves cannot be set side by side.
    """
    names = (setups[0].name, setups[1].name)
    compared = compare_setups(casebook, *setups)
    effects = band_effects(casebook, setups, compared) if compared else None
    aside: dict[str, None] = {}
    reach = reach_by_name(casebook)
    found = crosscheck(
        words,
        names,
        lexicon,
        effects.of if effects else lambda low_hz, high_hz: None,
        _own_thresholds(casebook, setups, aside),
        beside_words(casebook, setups).of,
        effects.lacking if effects else unmeasured,
        lambda word, low_hz, high_hz: reach(word.listeners, low_hz, high_hz),
    )
    lacking = () if compared else tuple(filter(None, (_lacking(casebook, setup) for setup in setups)))
    return CrosscheckOfTwo(names, compared, tuple(found), tuple(aside), lacking)


def _lacking(casebook: Casebook, setup: Setup) -> str:
    """What a setup has instead of a response on axis that stands for it; empty where it has one."""
    if curve_records.in_direction(casebook, setup, ON_AXIS):
        return ""
    instead = curve_records.instead_of_axis(curve_records.of_setup(casebook, setup))
    return f"{setup.name} has {f'only others ({instead})' if instead else 'no response at all'}"


def reach_by_name(casebook: Casebook) -> ReachByName:
    """By how high the listeners of a casebook noticed tones."""
    every, names = hearing_rows.every(casebook), catalogue.names(casebook, Listener)
    if not every:
        return lambda listeners, low_hz, high_hz: ""

    def reach(listeners: Sequence[str], low_hz: float, high_hz: float) -> str:
        who = [one for one, name in names.items() if name in listeners]
        return "; ".join(own_reach.remarks(every, who, names, low_hz, high_hz))

    return reach


def other_chains(casebook: Casebook, two: Sequence[Setup]) -> dict[str | None, str]:
    """What is heard through another chain than either of two setups, by identifier (None: pink noise), and its name.

    Recordings share the chain that plays them; gear is a chain of its own.
    """
    gear_alone = all(one.is_real for one in two)
    others = [one for one in catalogue.everything(casebook, Setup) if one not in two]
    found: dict[str | None, str] = {one.id: one.name for one in others if one.is_real or gear_alone}
    return found | ({None: "pink noise"} if gear_alone else {})


def _own_thresholds(casebook: Casebook, two: Sequence[Setup], aside: dict[str, None]) -> OwnThreshold:
    """What the listeners of a word of two setups notice in a band, by their runs; `aside` takes those not used."""
    every, names = threshold_rows.every(casebook), catalogue.names(casebook, Listener)
    others = {one.id: one.name for one in catalogue.everything(casebook, Setup) if one not in two}
    elsewhere, ids = other_chains(casebook, two), {name: listener_id for listener_id, name in names.items()}

    def own_of(word: WordOfTwo, low_hz: float, high_hz: float, lack: bool) -> AudibleFrom | None:
        who = [ids[name] for name in word.listeners if name in ids]
        if not every:
            return None
        asked = (every, who, names, low_hz, high_hz)
        aside.update(dict.fromkeys(own_thresholds.set_aside(*asked, lack=lack, elsewhere=elsewhere)))
        return own_thresholds.of_band(*asked, lack=lack, others=others, elsewhere=elsewhere)

    return own_of
