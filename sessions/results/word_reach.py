"""Which words lie in bands above the tones that their listeners noticed, in sentences: remarks, no more. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..words.lexicon import Lexicon
from .crosscheck_of_two import ReachByName


def of_words(reach_of: ReachByName, words: Iterable[str], listeners: Sequence[str], lexicon: Lexicon) -> list[str]:
    """The words (as they are told) whose band in the lexicon lies so high for these listeners, by name."""
    bands = {
        word: (entry.low_hz, entry.high_hz)
        for word in words
        if (entry := lexicon.find(word)) and entry.low_hz is not None and entry.high_hz is not None
    }
    return of_bands(reach_of, bands, listeners)


def of_bands(reach_of: ReachByName, bands: dict[str, tuple[float, float]], listeners: Sequence[str]) -> list[str]:
    """The same of bands, Hz, by what is told of them; those of which the same is to be said in one sentence."""
    alike: dict[str, list[str]] = {}
    for what, (low_hz, high_hz) in bands.items():
        alike.setdefault(reach_of(listeners, low_hz, high_hz), []).append(what)
    return [f"{', '.join(every)}: {remark}." for remark, every in alike.items() if remark]
