"""Words beside curves in sentences, rows and labels: for the command line and the desk alike. Pure."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence

from ..measured import band_effect, word_thresholds
from .crosscheck_of_two import CrosscheckOfTwo
from .crosschecked import Crosschecked
from .how_answered import listed

EXPLAINED = (  # its first line is as long as the one that a frame full of words has room for
    "Whole bar: measured; broken: not, or unsure. No cause.\n"
    "The band stated for a word is a hypothesis. Said, not heard blind, unless it says so"
)

SAID = re.compile("^said(?: and|,|;) ")


def not_measured(found: CrosscheckOfTwo) -> str:
    """Which curves are looked at, and what there is instead."""
    return (
        "Looked at are responses on axis that stand for the whole setup, not for one side, driver or place, and not "
        f"both have one; {', '.join(found.lacking)}"
    )


def sentences(found: Sequence[Crosschecked]) -> list[str]:
    """What each word's outcome rests on, whose threshold was used, and what can be heard."""
    told, lines = set[str](), list[str]()
    for word in found:
        band = ""
        if word.entry is not None and word.effect is not None and word.entry.word not in told:
            told.add(word.entry.word)
            band = f" The hypothesis: {word.entry.says} of {word.entry.low_hz:g} to {word.entry.high_hz:g} Hz"
            band += f" ({word.entry.source})."
        lines.append(f"{word.word.name}: {word.word.how}; {word.why}.{band}{f' {word.remark}.' if word.remark else ''}")
    used: dict[str, list[str]] = {}
    for one in found:
        if one.audible is not None and one.audible.own:
            used.setdefault(one.audible.source, []).append(one.word.name)
    lines += [f"The threshold used for {listed(list(dict.fromkeys(own)))}: {source}." for source, own in used.items()]
    if any(one.audible is not None for one in found):
        lines.append(band_effect.REST)
    if any(one.effect is not None and (one.audible is None or not one.audible.own) for one in found):
        lines.append(f"What can be heard, as published: {word_thresholds.SOURCE}.")
    who = list(dict.fromkeys(name for one in found for name in one.word.listeners))
    if who:
        lines.append(f"What was heard or said is about {listed(who)}{' alone' if len(who) == 1 else ''}.")
    return lines


def rows(found: Sequence[Crosschecked]) -> tuple[list[str], list[list[str]]]:
    """Headings and rows: each word, its ballot where there are any, and its outcome."""
    ballots = any(one.word.ballot for one in found)
    return (
        ["word", *(["ballot"] if ballots else []), "outcome"],
        [[one.word.name, *([one.word.ballot or "-"] if ballots else []), one.told] for one in found],
    )


def labels(found: Sequence[Crosschecked]) -> Callable[[Crosschecked], str]:
    """What a picture says of each word: its outcome, and where there are several of one word, what each is of."""
    times = Counter(one.word.term for one in found)

    def label(one: Crosschecked) -> str:
        said = " and ".join(one.word.labels)
        of = f"ballot {one.word.ballot}" if one.word.ballot else f"said {said}" if said else "said"
        which = f" ({of})" if times[one.word.term] > 1 else ""
        return f"{one.word.name}{which}: {SAID.sub('', one.told)}"

    return label
