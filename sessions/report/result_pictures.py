"""The pictures of a result, by its kind: which there are, and their captions. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial, singledispatch

from stats.bradley_terry import Abilities

from ..plans.methods.multi_stimulus import QUALITY
from ..results.answers import FEWEST
from ..results.ballot_outcomes import WordBallots, WordRatings, WordsOfMany
from ..results.first_lines import but_alone
from ..results.how_answered import listed
from ..results.outcome import DifferenceGrades, Discrimination, Outcome, PairedComparison, QualityGrades
from ..results.verdict import Verdict
from . import ballot_pictures, count_pictures, grade_pictures
from .svg import LEFT, ROW, axis, mean_bar, scale, svg, text

MOST_TICKS = 4  # on each side of zero
DIFFERENCES = "Difference grades: each dot is a trial, below 0 where the reference was found"
BOXES = (
    "Grades of the listeners kept: box from hinge to hinge, the line the median, the dot the mean, whiskers to the "
    "last grade within 1.5 boxes, crosses beyond."
)


@dataclass(frozen=True)
class Picture:
    """A picture and its caption; it is drawn when it is asked for, so that one that fails takes no other with it."""

    caption: str
    draw: Callable[[], str]


def of(verdict: Verdict) -> list[Picture]:
    """Each picture of a result; none before the plan is over, and none where there is nothing to draw."""
    return [] if verdict.outcome is None else _pictures(verdict.outcome, verdict)


@singledispatch
def _pictures(found: Outcome, verdict: Verdict) -> list[Picture]:
    raise NotImplementedError(type(found).__name__)


@_pictures.register
def _(found: DifferenceGrades, verdict: Verdict) -> list[Picture]:
    means = "; the bar is the mean with its 95 % interval." if found.every is not None else ". Closed early: no test."
    return [Picture(DIFFERENCES + means, lambda: grade_pictures.difference_grades(found))]


@_pictures.register
def _(found: QualityGrades, verdict: Verdict) -> list[Picture]:
    return [Picture(BOXES, lambda: grade_pictures.quality_grades(found, QUALITY))] if found.summaries else []


@_pictures.register
def _(found: PairedComparison, verdict: Verdict) -> list[Picture]:
    fit = found.abilities
    if fit is None or found.answered < FEWEST:
        return []
    caption = "Bradley-Terry abilities (ln), the first setup as the base, with their 95 % intervals."
    return [Picture(caption, lambda: abilities(found.setups, fit))]


@_pictures.register
def _(found: WordBallots, verdict: Verdict) -> list[Picture]:
    caption = (
        "In how many trials each word was ticked of one of the two alone: to the left of "
        f"{found.setups[0]}, to the right of {found.setups[1]}. {_heard(verdict)} "
        "Flips: trials in which it was ticked of one alone where both were the same."
    )
    return [Picture(caption, lambda: ballot_pictures.ticks(found, verdict.words_heard))]


@_pictures.register
def _(found: WordRatings, verdict: Verdict) -> list[Picture]:
    caption = (
        f"How each word was rated on average: to the left of {found.setups[0]}, to the right of {found.setups[1]}. "
        f"{_heard(verdict)} Flips: trials in which its ratings differed where both were the same."
    )
    return [Picture(caption, lambda: ballot_pictures.ratings(found, verdict.words_heard))]


@_pictures.register
def _(found: WordsOfMany, verdict: Verdict) -> list[Picture]:
    how = "How each word was rated on average" if found.rated else "In which share of the trials each word was ticked"
    heard = _none_heard(verdict)
    if verdict.words_heard:
        heard = "Full dots and * mark a word that was heard: not all got it alike. Which differ it does not say."
    caption = f"{how}, of each setup by its number. {heard} Flips: trials in which it changed where all were the same."
    return [Picture(caption, lambda: ballot_pictures.of_many(found, verdict.words_heard))]


@_pictures.register
def _(found: Discrimination, verdict: Verdict) -> list[Picture]:
    plan = verdict.plan
    counted = f"for {plan.setups[0].name}" if plan.method.asks_preference else "right"
    interval, end, cells = found.interval, found.sequential, found.same_different
    first, second = (setup.name for setup in plan.setups)
    sides = (first, second) if plan.method.asks_preference and plan.alternative == "two-sided" else None
    made = []
    if interval is not None:
        made.append(
            Picture(
                _proportion_caption(found, counted, both_sides=sides is not None),
                partial(count_pictures.proportion, found, interval, plan.chance, sides),
            )
        )
    if plan.sequential is not None and end is not None:
        region, steps, stops = (
            plan.sequential.boundaries,
            end.path,
            "the test stops where the path leaves the open space",
        )
        drawn = partial(
            count_pictures.path, region, steps, preference=plan.method.asks_preference, ended=found.complete
        )
        closed = "" if found.complete else "; it was closed before"
        made.append(Picture(f"The answers one by one: {stops}{closed}.", drawn))
    if cells is not None:
        made.append(Picture('"Different" said in different and in same trials.', lambda: count_pictures.rates(cells)))
    if interval is not None and found.complete and not plan.method.asks_preference:
        caption = "What this method turns a sensitivity d' into, and where this result lies on it."
        drawn = partial(count_pictures.sensitivity, found, interval, plan.method.name, plan.chance)
        made.append(Picture(caption, drawn))
    return made


def _proportion_caption(found: Discrimination, counted: str, *, both_sides: bool) -> str:
    marks = "the triangles the criterion for either setup" if both_sides else "the triangle the criterion"
    end = f", {marks}." if found.criterion is not None else "."
    if found.could_have_been is None:
        return f"Proportion {counted} with its 95 % interval; the dotted line is chance{end}"
    return (
        f"Proportion {counted} had the missing trials all gone against it, or all for it (the dots), with the 95 % "
        f"interval of all ways between; the dotted line is chance{end}"
    )


def _heard(verdict: Verdict) -> str:
    return "A full bar and * mark a word that was heard." if verdict.words_heard else _none_heard(verdict)


def _none_heard(verdict: Verdict) -> str:
    """That no word is marked as heard, as the headline has it, and which its ballot alone would bear."""
    named = [word for word in verdict.words_alone if word in verdict.words_named]
    others = [word for word in verdict.words_alone if word not in named]
    alone = f" Enough by this ballot alone: {', '.join(others)}." if others else ""
    if not named:
        return f"No word was shown to be heard.{alone}"
    were = "was" if len(named) == 1 else "were"
    return f"No word is marked: {listed(named)} {were} heard{but_alone(verdict)}.{alone}"


def abilities(setups: Sequence[str], fit: Abilities) -> str:
    """Each setup's ability with its interval, the strongest first."""
    values = list(zip(setups, fit.abilities, fit.errors, strict=True))
    reach = max(1.0, *(abs(value) + 2 * error for _, value, error in values))
    at = scale(-reach, reach)
    rows = []
    for line, (name, value, error) in enumerate(sorted(values, key=lambda item: -item[1])):
        y = 34 + ROW * line
        rows.append(text(LEFT, y - 12, name))
        rows.append(mean_bar(at, value, value - 1.96 * error, value + 1.96 * error, y))
    height = 10 + ROW * len(values)
    most = int(reach)
    step = -(-most // MOST_TICKS)
    ticks = [step * n for n in range(-(most // step), most // step + 1)]
    named = ", ".join(f"{name}: {value:.2f}" for name, value, _ in values)
    return svg(height + 26, f"abilities: {named}", axis(at, ticks, height, zero=0.0) + "".join(rows))
