"""A count whose trials were not all answered: what holds whichever way the missing ones could have gone."""

from __future__ import annotations

from dataclasses import dataclass

from . import count_summary, counted_methods, preference
from .intervals import Interval
from .preference import PreferenceCounts
from .validation import Alternative


@dataclass(frozen=True)
class Completions:
    """Every way in which the missing trials could have gone, taken together.

    Attributes
    ----------
    least, most
        The counts that enter the test if all missing trials went against what is counted, and if all went for it.
    reached
        True: every completion reaches the criterion; False: none does; None: some do.
    p_value
        The largest of any completion.
    interval
        The union of the completions' exact intervals.
    largest_difference
        The largest that any completion allows; None for a preference.
    first_preferred
        Of a preference that every completion shows: whether it is for the first setup. None otherwise.
    """

    least: PreferenceCounts
    most: PreferenceCounts
    reached: bool | None
    p_value: float
    interval: Interval
    largest_difference: float | None
    first_preferred: bool | None


def completions(
    method: str,
    counted: int,
    against: int,
    missing: int,
    *,
    ties: int = 0,
    policy: str = "not offered",
    alpha: float = 0.05,
    alternative: Alternative | None = None,
) -> Completions:
    """What every completion of a count that was stopped early has in common, and the worst that any of them says.

    Parameters
    ----------
    method, alternative
        As for `count_summary.summarise`.
    counted, against
        Answers that were right and wrong; in a preference, choices of the first and of the second.
    missing
        Trials planned and not answered, 1 or more.
    ties, policy
        Ties given, and the policy of `preference.with_ties`.

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    When a test was stopped may depend on how it went, so that nothing may be gained by the moment chosen: a statement
    is made only if it holds for all completions. A missing trial ends as counted, as against, or (where offered) as a
    tie. One more answer that counts lowers P(X ≥ x), raises both ends of the exact interval and the largest difference;
    one more against does the opposite; a tie, dropped or split, lies between. So every number is monotone along the
    ways from `least` (all against) to `most` (all counted), and the ends suffice: one-sided, the largest p is that of
    `least`; the interval runs from the low end of `least` to the high end of `most`. Two-sided, p grows toward the
    middle: it is that of the nearer end, or 1 where the ends lie on both sides of the middle, since some completion
    passes it. The tests go through all completions of all small designs.

    Examples
    --------
    Six of six right, two of eight trials missing:

    >>> found = completions("abx", 6, 0, 2)
    >>> found.reached, round(found.p_value, 4), round(found.interval.low, 2), found.interval.high
    (None, 0.1445, 0.35, 1.0)

    So it is undecided: with both of them right it would be heard, with both wrong it would not be shown.
    """
    side = counted_methods.with_direction(method, alternative).alternative
    least = preference.with_ties(counted, against + missing, ties, policy, side)
    most = preference.with_ties(counted + missing, against, ties, policy, side)
    low, high = (
        count_summary.summarise(method, end.for_first, end.trials, alpha, alternative) for end in (least, most)
    )
    passes_middle = side == "two-sided" and 2 * low.correct <= low.trials and 2 * high.correct >= high.trials
    shown = [end.verdict == count_summary.HEARD for end in (low, high)]
    reached = False if not any(shown) else True if all(shown) and not passes_middle else None
    asks = low.largest_difference is None
    return Completions(
        least=least,
        most=most,
        reached=reached,
        p_value=1.0 if passes_middle else max(low.p_value, high.p_value),
        interval=Interval(low.interval.level, low.interval.low, high.interval.high, low.interval.kind),
        largest_difference=high.largest_difference,
        first_preferred=2 * low.correct > low.trials if asks and reached else None,
    )
