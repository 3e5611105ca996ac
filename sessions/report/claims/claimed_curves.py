"""What is claimed of a band of curves beside what was measured in it.

The effect in a band is that of `measured.band_effect`: of two curves their difference there less the level that both
share; of one curve its level there less that of most of its range. A claim is borne only where the uncertainty of the
effect (by repeats; else `UNREPEATED_DB`, our own rule) leaves it on one side.
"""

from __future__ import annotations

import numpy as np

from audio.curves.curve import Curve
from audio.errors import MeasureError

from ...casebook import catalogue
from ...casebook.catalogue import Setup
from ...casebook.store import Casebook
from ...errors import CatalogueError
from ...measured import band_effect, curve_records
from ...measured.band_effect import BandEffect, BandEffects
from ...measured.curve_comparison import compare_setups
from ...measured.frequency_response import BAND_HZ, SMOOTHING, response_of, shown
from ...measured.word_thresholds import published
from ...results.crosscheck_sentences import UNREPEATED_DB
from .claim_rows import CurveSays, Standing
from .standing import Part


def part(casebook: Casebook, claimed: CurveSays) -> Part:
    """The part of a claim's evidence that is a band of curves.

    Raises
    ------
    CatalogueError
        If a setup or curve is gone, or one of them is no response.
    """
    names = [_name(casebook, one) for one in claimed.of]
    band = f"{claimed.low_hz:g} to {claimed.high_hz:g} Hz"
    least = f" by {claimed.least_db:g} dB at least" if claimed.least_db else ""
    against = f"than {names[1]}" if len(names) == 2 else "than most of its range"
    what = f"curve {names[0]}, {claimed.says} {against} in {band}{least}"
    gone = [why for one in claimed.of if (why := _withdrawn(casebook, one))]
    if gone:
        return Part(what, "not shown", "; ".join(gone))
    try:
        effects = _effects(casebook, claimed.of)
    except MeasureError as error:
        return Part(what, "not shown", str(error))
    if isinstance(effects, str):
        return Part(what, "not shown", effects)
    effect = effects.of(claimed.low_hz, claimed.high_hz)
    if effect is None:
        return Part(what, "not shown", effects.lacking(claimed.low_hz, claimed.high_hz))
    return Part(what, bears(effect, claimed), _said(effect, claimed, names))


def setup_of(casebook: Casebook, one: str) -> str:
    """The name of the setup that a curve is of, or that is named itself.

    Raises
    ------
    CatalogueError
        If there is neither.
    """
    setup = catalogue.named(casebook, Setup, one)
    if setup is not None:
        return setup.name
    found = curve_records.listed(casebook, one)
    if not found:
        raise CatalogueError(f"{one} is no longer in this casebook")
    return found[0].setup


def bears(effect: BandEffect, claimed: CurveSays) -> Standing:
    """Whether an effect bears what is claimed of it.

    >>> claimed = CurveSays(("a", "b"), "more", 60, 120, 1.0)
    >>> [bears(BandEffect(60, 120, db, 0.3), claimed) for db in (1.4, 1.2, 0.6)]
    ['shown', 'not shown', 'contradicted']
    """
    own = effect.db if claimed.says == "more" else -effect.db
    apart = UNREPEATED_DB if effect.expanded_db is None else effect.expanded_db
    if own - apart >= claimed.least_db and own - apart > 0:
        return "shown"
    return "contradicted" if own + apart < claimed.least_db else "not shown"


def _said(effect: BandEffect, claimed: CurveSays, names: list[str]) -> str:
    side = "more" if effect.db >= 0 else "less"
    in_shape = "compared in shape, against what most of the range has"
    against = f"than {names[1]}, {in_shape}" if len(names) == 2 else "than most of its range"
    sure = (
        f"not repeated; {UNREPEATED_DB:g} dB is taken for its uncertainty, our own rule"
        if effect.expanded_db is None
        else f"± {effect.expanded_db:.1f} dB, 95 %"
    )
    said = f"{names[0]} gives {abs(effect.db):.1f} dB {side} {against} ({sure})"
    heard = published(claimed.low_hz, claimed.high_hz, lack=claimed.says == "less") if len(names) == 2 else None
    return said if heard is None else f"{said}; {heard.high_db:.1f} dB can be heard there, as published"


def _name(casebook: Casebook, one: str) -> str:
    setup = setup_of(casebook, one)
    return setup if catalogue.named(casebook, Setup, one) else f"{setup} ({one})"


def _withdrawn(casebook: Casebook, one: str) -> str:
    found = [] if catalogue.named(casebook, Setup, one) else curve_records.listed(casebook, one)
    return f"{one} is withdrawn: {found[0].withdrawn}" if found and found[0].withdrawn else ""


def _effects(casebook: Casebook, of: tuple[str, ...]) -> BandEffects | str:
    """What can be asked for any band; or why nothing can."""
    setups = [catalogue.named(casebook, Setup, one) for one in of]
    first, second = setups[0], setups[-1]
    if len(of) == 2 and first is not None and second is not None:
        compared = compare_setups(casebook, first, second)
        if compared is None:
            return "a curve on axis of each is needed"
        return band_effect.band_effects(casebook, [first, second], compared)
    curves = []
    for one, setup in zip(of, setups, strict=True):
        record = curve_records.of_setup(casebook, setup).on_axis if setup else curve_records.by_id(casebook, one)
        if record is None:
            return f"{setup.name if setup else one} has no curve on axis"
        curves.append(shown(response_of(record), SMOOTHING, BAND_HZ))
    if len(curves) == 1:
        own = curves[0]
        curves.append(Curve(own.hz, np.zeros(len(own.hz)), None, own.valid_hz, own.gaps_hz))
    return BandEffects((curves[0],), (curves[1],))
