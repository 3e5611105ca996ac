"""The ratings of a trial at the listening screen: each word is rated by one digit for what is heard."""

from __future__ import annotations

from ..chair.sheets import GivenRatings
from ..plans.methods.rated_ballot import LEAST_RATING, MOST_RATING, RatedBallot
from .tick_sheet import ENDS, MOVES, TickSheet

DIGITS = tuple(str(digit) for digit in range(LEAST_RATING, MOST_RATING + 1))
NOTHING_PLAYS = "press the space bar first; a rating belongs to what you hear"


class RatingSheet(TickSheet):
    """The ratings of one trial while they are being given: none at first, so that none is suggested.

    Digits rate, so that what is heard is chosen by the space bar, in turn.
    """

    said = GivenRatings.said

    def __init__(self, method: RatedBallot) -> None:
        super().__init__(method)
        self.rated = GivenRatings(method)
        self.hears = f"space: hear {method.needed[0]} {'to' if method.many else 'and'} {method.needed[-1]} in turn"
        self.ratings = self.rated.ratings

    def turn(self, key: str, playing: str | None) -> str | None:
        """Take a key that moves on the list or rates a word; what is to be said then, or None: it is another key."""
        if key in MOVES or key in ENDS:
            return super().turn(key, playing)
        if key not in DIGITS:
            return None
        if playing is None:
            return NOTHING_PLAYS
        self.ratings[playing][self.method.shown[self.at]] = int(key)
        return ""

    def next_after(self, playing: str | None) -> str:
        """What the space bar plays: the next one, the first after the last or where nothing is heard."""
        labels = self.method.needed
        return labels[0] if playing is None else labels[(labels.index(playing) + 1) % len(labels)]

    def lacking(self) -> str:
        """Which words are not rated yet; empty where all are."""
        return self.rated.lacking()

    def answer(self) -> str:
        """The ratings as they are kept."""
        return self.rated.answer()

    def hints(self) -> list[list[str]]:
        """What the keys do while the trial is heard, in rows that belong together."""
        return [
            ["up, down: the next word", f"{LEAST_RATING} to {MOST_RATING}: rate it for what you hear"],
            ["Enter: done", "w: log a word", "q: stop"],
        ]

    def _marks(self, word: str) -> list[str]:
        return [str(ratings.get(word, " ")) for ratings in self.ratings.values()]
