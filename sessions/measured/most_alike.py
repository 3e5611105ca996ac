"""Which curves are set beside each other: those measured most alike, the newest of equals; and what was passed over.

A curve that was measured again in another room, farther away or with another gate says more of that than of what it is
set beside. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from .conditions import Conditions
from .curve_records import CurveRecord

NOT_SAID = "not said"
NAMED = ("smoothing", "gate")  # whose values alone do not tell what they are of


def how_in_words(stated: Conditions) -> dict[str, str]:
    """The conditions that curves side by side should share, as people read them, what weighs most first.

    Empty where nobody said.
    """
    return {
        "room": stated.room,
        "distance": "" if stated.distance_m is None else f"{round(stated.distance_m, 2):g} m",
        "gate": "" if stated.gate_ms is None else f"{stated.gate_ms:.1f} ms",
        "axis": stated.axis,
        "smoothing": f"1/{stated.smoothing:g} octave" if stated.smoothing else "none",
        "drive": "" if stated.drive_volts is None else f"{round(stated.drive_volts, 2):g} V",
    }


def differing(one: CurveRecord, other: CurveRecord) -> tuple[str, ...]:
    """By name what was said otherwise of the one than of the other."""
    first, second = (how_in_words(record.conditions) for record in (one, other))
    return tuple(what for what in first if first[what] != second[what])


def most_alike(*several: Sequence[CurveRecord]) -> tuple[CurveRecord, ...]:
    """One curve of each list (the newest last) so that they were measured most alike; the newest of equals.

    What weighs more comes first: another room is worse than another distance, that worse than another gate, and so on.
    """
    apart = {
        (one.id, other.id): _apart(one, other)
        for place, first in enumerate(several)
        for second in several[place + 1 :]
        for one, other in product(first, second)
    }

    def worth(chosen: tuple[CurveRecord, ...]) -> tuple[tuple[int, ...], int]:
        pairs = [apart[one.id, other.id] for place, one in enumerate(chosen) for other in chosen[place + 1 :]]
        ages = (len(own) - own.index(one) for own, one in zip(several, chosen, strict=True))
        return tuple(map(sum, zip(*pairs, strict=True))), sum(ages)

    return min(product(*several), key=worth)


def passed_over(name: str, taken: CurveRecord, among: Sequence[CurveRecord]) -> str:
    """Which curve was taken of several that were measured otherwise, and from when; empty where all agree.

    Parameters
    ----------
    among
        Those there were, the newest last.
    """
    others = [one for one in among if differing(one, taken)]
    if not others:
        return ""
    what = [part for part in how_in_words(taken.conditions) if any(part in differing(one, taken) for one in others)]
    newest = "the newest" if taken.id == among[-1].id else "not the newest"
    which = "1 was measured otherwise" if len(others) == 1 else f"{len(others)} were measured otherwise"
    return (
        f"{name}: of its {len(among)} curves {taken.id} was taken ({_told(taken, what)}), {newest}; {which} "
        f"({'; '.join(dict.fromkeys(_told(one, what) for one in reversed(others)))})"
    )


def _apart(one: CurveRecord, other: CurveRecord) -> tuple[int, ...]:
    found = differing(one, other)
    return tuple(int(what in found) for what in how_in_words(one.conditions))


def _told(record: CurveRecord, what: Sequence[str]) -> str:
    """When it was measured, and some of its conditions."""
    own = how_in_words(record.conditions)
    said = [own[part] if own[part] and part not in NAMED else f"{part} {own[part] or NOT_SAID}" for part in what]
    return ", ".join([*said, record.conditions.when or record.at[:10]])
