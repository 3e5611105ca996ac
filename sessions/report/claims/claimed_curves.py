"""What is claimed of a band of curves beside what was measured in it.

Where two curves lie level is a choice, and it moves what a band comes to by more than curves are uncertain. So a claim
is judged at each level that somebody may look at: against what most of the range has (`measured.band_effect`: their
shape), at one level in the middle (as figures and stills lay them), and, where the two share a calibration, as they
were measured. It is borne, or contradicted, only where all of these say so and each by more than its uncertainty (by
repeats; else `UNREPEATED_DB`, our own rule). Of one curve: against most of its range, and against its middle.
"""

from __future__ import annotations

from dataclasses import dataclass

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
from ...measured.shared_level import shared_level
from ...measured.word_thresholds import published
from ...results.crosscheck_sentences import UNREPEATED_DB
from .claim_rows import CurveSays, Standing
from .standing import Part

HANGS = "it cannot be told, since it hangs on where the curves are laid level"


@dataclass(frozen=True)
class _Level:
    """Curves at one of the levels at which they may be compared.

    Attributes
    ----------
    how
        At which, after how much it is "than" the other.
    as_laid
        Whether it is the level that these curves have here, rather than what most of the range has.
    """

    how: str
    effects: BandEffects
    as_laid: bool = True

    def of(self, claimed: CurveSays) -> BandEffect | None:
        """The effect in the band that is claimed, at this level."""
        return self.effects.of(claimed.low_hz, claimed.high_hz, as_laid=self.as_laid)


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
        levels = _levels(casebook, claimed.of)
    except MeasureError as error:
        return Part(what, "not shown", str(error))
    if isinstance(levels, str):
        return Part(what, "not shown", levels)
    found = [(one.how, effect) for one in levels if (effect := one.of(claimed)) is not None]
    if not found:
        return Part(what, "not shown", levels[0].effects.lacking(claimed.low_hz, claimed.high_hz))
    said = _said(found, claimed, names)
    comes_to, *others = {bears(effect, claimed) for _, effect in found}
    return Part(what, "not shown", f"{HANGS}: {said}") if others else Part(what, comes_to, said)


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


def _said(found: list[tuple[str, BandEffect]], claimed: CurveSays, names: list[str]) -> str:
    """What the band comes to at each level, that of the figures first; how sure that is; what can be heard there."""
    (as_drawn, drawn), *others = found
    than = f" than {names[1]}" if len(names) == 2 else ""
    said = f"{names[0]} gives {_told(drawn)}{than} {as_drawn}"
    said += "".join(f"; {how}, {_told(effect)}" for how, effect in others)
    apart_db = [effect.expanded_db for _, effect in found if effect.expanded_db is not None]
    sure = (
        f"± {max(apart_db):.1f} dB, 95 %"
        if apart_db
        else f"not repeated; {UNREPEATED_DB:g} dB is taken for its uncertainty, our own rule"
    )
    said = f"{said} ({sure})"
    heard = published(claimed.low_hz, claimed.high_hz, lack=claimed.says == "less") if len(names) == 2 else None
    return said if heard is None else f"{said}; {heard.high_db:.1f} dB can be heard there, as published"


def _told(effect: BandEffect) -> str:
    return f"{abs(effect.db):.1f} dB {'more' if effect.db >= 0 else 'less'}"


def _name(casebook: Casebook, one: str) -> str:
    setup = setup_of(casebook, one)
    return setup if catalogue.named(casebook, Setup, one) else f"{setup} ({one})"


def _withdrawn(casebook: Casebook, one: str) -> str:
    found = [] if catalogue.named(casebook, Setup, one) else curve_records.listed(casebook, one)
    return f"{one} is withdrawn: {found[0].withdrawn}" if found and found[0].withdrawn else ""


def _levels(casebook: Casebook, of: tuple[str, ...]) -> list[_Level] | str:
    """The curves at each level at which they may be compared, that of the figures first; or why they cannot be."""
    setups = [catalogue.named(casebook, Setup, one) for one in of]
    first, second = setups[0], setups[-1]
    if len(of) == 2 and first is not None and second is not None:
        compared = compare_setups(casebook, first, second)
        if compared is None:
            return "a curve on axis of each is needed"
        both = [first, second]
        level = shared_level(compared.records, stated=False)
        return _of_two(
            band_effect.band_effects(casebook, both, compared),
            band_effect.band_effects(casebook, both, compared, as_measured=True) if level.absolute else None,
        )
    records = []
    for one, setup in zip(of, setups, strict=True):
        record = curve_records.of_setup(casebook, setup).on_axis if setup else curve_records.by_id(casebook, one)
        if record is None:
            return f"{setup.name if setup else one} has no curve on axis"
        records.append(record)
    own = shown(response_of(records[0]), SMOOTHING, BAND_HZ)
    if len(records) == 1:
        flat = Curve(own.hz, np.zeros(len(own.hz)), None, own.valid_hz, own.gaps_hz)
        alone = BandEffects((own,), (flat,))
        middle = _Level("than its own middle has, as figures lay it", alone)
        return [middle, _Level("compared with most of its range", alone, as_laid=False)]
    drawn = BandEffects((own,), (shown(response_of(records[1]), SMOOTHING, BAND_HZ),))
    measured = BandEffects(*((shown(response_of(one), SMOOTHING),) for one in records))
    return _of_two(drawn, measured if shared_level(records, stated=False).absolute else None)


def _of_two(drawn: BandEffects, measured: BandEffects | None) -> list[_Level]:
    """Two curves as figures lay them, in shape, and with the levels that they were measured with, where these tell."""
    found = [
        _Level("at one level in the middle, as figures lay them", drawn),
        _Level("compared in shape, against what most of the range has", drawn, as_laid=False),
    ]
    if measured is not None:
        found.append(_Level("as measured, for one drive at one distance", measured))
    return found
