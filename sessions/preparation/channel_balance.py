"""By how much the balance of the channels differs between setups, or that it could not be judged. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

BALANCE_LIMIT_DB = 0.5  # EBU Tech 3343-2023, 8.2, as for giveaways


@dataclass(frozen=True)
class PairBalance:
    """Two setups (by the names they had), and by how much the balance of their channels differs.

    Attributes
    ----------
    balance_db
        None where it could not be judged: the bands do not bear out on which side of the limit it lies.
    hides_db
        Below which no difference of balance could be told: the limit, and what the bands' scatter leaves open.
    loudness_db
        How differently loud the channels are, whatever the music's spectrum or a room adds; None where one is silent.
    """

    setups: tuple[str, str]
    balance_db: float | None
    hides_db: float
    loudness_db: float | None


@dataclass(frozen=True)
class Unjudged:
    """A balance that could not be judged: in words for people, from numbers as text."""

    hides_db: str
    loudness_db: str = ""

    def in_words(self, where: str = "the recordings", *, elsewhere: bool = False) -> str:
        """Why, and how differently loud the channels are, as sentences; `where` says between what.

        `elsewhere` says that the balance of other passages or setups was judged, and is told beside it.
        """
        loud = (
            f" The loudness of the channels differs by {self.loudness_db} dB, which may be the room's or the setups'."
            if self.loudness_db
            else ""
        )
        begins = "In other passages or setups the" if elsewhere else "The"
        return (
            f"{begins} balance of the channels could not be judged: what lies between {where} (a room?) hides a "
            f"difference of less than {self.hides_db} dB.{loud}"
        )


def among(pairs: Sequence[PairBalance], names: Collection[str]) -> list[PairBalance]:
    """The pairs of which both setups have these names."""
    return [pair for pair in pairs if set(pair.setups) <= set(names)]


def worst(pairs: Sequence[PairBalance]) -> PairBalance | None:
    """Of the pairs that could not be judged, that which hides most; None where all could."""
    return max((pair for pair in pairs if pair.balance_db is None), key=lambda pair: pair.hides_db, default=None)


def largest(values: Collection[float], *, all_judged: bool) -> float | None:
    """The largest difference of balance; None where there is none, or where one that is not judged may be larger.

    Beyond the limit it stands, whatever the others are.
    """
    most = max(values, default=None)
    return most if all_judged or most is None or most > BALANCE_LIMIT_DB else None


def unjudged(pair: PairBalance) -> Unjudged:
    """A pair that could not be judged, rounded for people."""
    return Unjudged(f"{pair.hides_db:.1f}", "" if pair.loudness_db is None else f"{pair.loudness_db:.2f}")
