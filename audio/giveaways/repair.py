"""From findings to repairs: one mend a setup, of all that can be mended. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from ..mend import Mend
from .findings import Finding


def propose(findings: Iterable[Finding], *, polarity: bool = False, setups: Collection[str] = ()) -> dict[str, Mend]:
    """The repair for each setup that has one: offset, drift and rate always, polarity when asked for.

    The findings are against one reference, towards which all are mended. Length needs no repair of its own: with the
    offset mended, passages are cut to the same length. A high-pass is for all `setups` alike, the reference too, where
    one of them needs it.
    """
    mends: dict[str, Mend] = {}
    for found in findings:
        if found.mend is None or not is_mended(found, polarity=polarity):
            continue
        mends[found.setup] = mends.get(found.setup, Mend()).then(found.mend)
    for mend in list(mends.values()):
        if mend.high_pass_hz is not None:
            alike = Mend(high_pass_hz=mend.high_pass_hz)
            mends |= {setup: mends.get(setup, Mend()).then(alike) for setup in setups}
    return mends


def is_mended(found: Finding, *, polarity: bool = False) -> bool:
    """Whether a finding is mended here: as a whole where it can be, but polarity only when asked for."""
    return found.mend is not None and (polarity or not found.mend.invert)
