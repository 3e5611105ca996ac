"""An adaptive run: against a plain loop over all that is believed, and simulated listeners of known thresholds."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import product
from math import inf, log

import numpy as np
import pytest
from scipy.stats import norm

from stats.adaptive_threshold import (
    LAPSES,
    LAPSES_BELIEVED,
    NEVER,
    SLOPES,
    Answer,
    Search,
    Threshold,
    _points,
    may_follow,
    next_step,
    threshold,
)
from stats.errors import StatsError

STEPS = (0.2, 0.35, 0.6, 1.0, 1.7, 3.0, 5.0)
Listener = Callable[[float], float]


def curve(at: float, slope: float, slips: float, alternatives: int = 2) -> Listener:
    """The share right at each step of a listener whose threshold, halfway from guessing, is at `at`."""
    guessing = 1 / alternatives
    return lambda step: guessing + (1 - guessing - slips * (1 - guessing)) * (1 - 0.5 ** ((step / at) ** slope))


def normal(at: float) -> Listener:
    """Of another shape than the search believes: d′ grows with the step, right in Φ(d′/√2) of two alternatives."""
    return lambda step: float(norm.cdf(norm.ppf(0.75) * step / at))


def run(search: Search, right: Listener, rng: np.random.Generator) -> Threshold:
    answers: list[Answer] = []
    while (step := next_step(search, answers)) is not None:
        answers.append((step, bool(rng.random() < right(step))))
    return threshold(search, answers)


@cache
def runs(name: str, number: int) -> tuple[Threshold, ...]:
    listener, alternatives = LISTENERS[name]
    search = Search(STEPS, alternatives, width=None, fewest=24, most=40)
    rng = np.random.default_rng(len(name))
    return tuple(run(search, listener, rng) for _ in range(number))


LISTENERS: dict[str, tuple[Listener, int]] = {
    "shallow, without slips": (curve(1.2, 1.5, 0.0), 2),
    "steep, slipping in 8 of 100": (curve(0.8, 3.0, 0.08, 3), 3),
    "a normal curve": (normal(1.0), 2),
    "guessing": (lambda step: 0.5, 2),
    "guessing of three": (lambda step: 1 / 3, 3),
    "always right": (lambda step: 1.0, 2),
}


@pytest.mark.parametrize(
    ("name", "at"), [("shallow, without slips", 1.2), ("steep, slipping in 8 of 100", 0.8), ("a normal curve", 1.0)]
)
def test_known_thresholds_lie_in_the_interval_as_often_as_it_says(name: str, at: float) -> None:
    """70 runs each: 95 % ± 2.6 %, one standard error; together 210 runs, tested below."""
    found = runs(name, 70)
    values = [one.value for one in found if one.value is not None]
    assert len(values) >= 68
    assert abs(np.mean(np.log2(np.array(values) / at))) < 0.2  # of an octave; ± 0.05
    assert 0.15 < np.std(np.log2(np.array(values) / at)) < 0.6


def test_the_intervals_cover_at_their_level_and_half_as_wide_ones_would_not() -> None:
    covered = halved = total = 0
    for name, at in [("shallow, without slips", 1.2), ("steep, slipping in 8 of 100", 0.8), ("a normal curve", 1.0)]:
        for one in runs(name, 70):
            low, high = one.low or 0.0, one.high or inf
            covered += low <= at <= high
            middle = one.value or at
            halved += (low * middle) ** 0.5 <= at <= (high * middle) ** 0.5
            total += 1
    assert total == 210
    assert covered / total >= 0.95 - 3 * (0.95 * 0.05 / total) ** 0.5  # .905
    assert halved / total < 0.9


@pytest.mark.parametrize(
    ("name", "place"), [("guessing", "above"), ("guessing of three", "above"), ("always right", "below")]
)
def test_who_guesses_reaches_no_threshold_and_who_always_hears_has_one_below_the_steps(name: str, place: str) -> None:
    """Said at 95 %, so 38 of 40 on average; 34 is three standard errors less."""
    found = runs(name, 40)
    assert sum(one.place == place for one in found) >= 34
    assert not any(one.place == "within" for one in found)
    for one in found:
        if one.place == place:
            assert one.value is None
            assert (one.high if place == "above" else one.low) is None
            assert one.trials < 40  # it does not go on asking


Belief = dict[tuple[float, float, float], float]


def plain_right(search: Search, step: float, at: float, slope: float, slips: float) -> float:
    guessing = 1 / search.alternatives
    target = (search.read_at - guessing) / (1 - guessing)
    heard = 0.0 if at == inf else 1 - (1 - target) ** ((step / at) ** slope)
    return min(guessing + (1 - guessing) * (1 - slips) * heard, 1 - 1e-9)


def plain_belief(search: Search, answers: list[Answer]) -> Belief:
    """Every threshold, slope and rate of slips by itself, by Bayes' rule."""
    points = _points(search).tolist()
    belief = {}
    for at, slope, (slips, believed) in product(points, SLOPES, zip(LAPSES, LAPSES_BELIEVED, strict=True)):
        weight = believed * (NEVER if at == inf else (1 - NEVER) / (len(points) - 1))
        for step, was_right in answers:
            share = plain_right(search, step, at, slope, slips)
            weight *= share if was_right else 1 - share
        belief[at, slope, slips] = weight
    total = sum(belief.values())
    return {place: weight / total for place, weight in belief.items()}


def entropy_after(search: Search, belief: Belief, step: float) -> float:
    """What is left to know of threshold and slope after an answer, on average, by the entropy's definition."""
    expected = 0.0
    for was_right in (True, False):
        kept: dict[tuple[float, float], float] = {}
        for (at, slope, slips), weight in belief.items():
            share = plain_right(search, step, at, slope, slips)
            kept[at, slope] = kept.get((at, slope), 0.0) + weight * (share if was_right else 1 - share)
        chance = sum(kept.values())
        expected -= sum(weight * log(weight / chance) for weight in kept.values() if weight > 0)
    return expected


@pytest.mark.parametrize("alternatives", [2, 3])
def test_belief_and_next_step_are_those_of_a_plain_loop(alternatives: int) -> None:
    search = Search((0.5, 1.0, 2.0), alternatives, proportion=0.8, width=None, most=61)
    rng = np.random.default_rng(alternatives)
    read = 0
    for number in (0, 3, 11, 60):
        played = rng.integers(0, 3, number).tolist()
        answers = [(search.steps[place], bool(rng.random() < 0.55 + 0.22 * place)) for place in played]
        belief = plain_belief(search, answers)
        left = {step: entropy_after(search, belief, step) for step in search.steps}
        assert next_step(search, answers) == min(left, key=left.__getitem__)
        points = _points(search)
        by_point = [sum(weight for place, weight in belief.items() if place[0] == at) for at in points.tolist()]
        below = np.cumsum(by_point)
        found, ratio = threshold(search, answers), points[1] / points[0]
        for share, value in [(0.025, found.low), (0.5, found.value), (0.975, found.high)]:
            if value is not None:
                read += 1
                middle = points[np.searchsorted(below, share)]
                assert middle / ratio**0.51 <= value <= middle * ratio**0.51
    assert read >= 4


def test_the_threshold_of_two_down_one_up_is_the_searchs_at_the_same_proportion() -> None:
    """Levitt, JASA 49 (1971), from memory: two right down, one wrong up ends about 70.7 % right."""
    rng, listener = np.random.default_rng(2), curve(1.0, 2.0, 0.0)
    fine = np.geomspace(0.1, 10, 60)
    reached = []
    for _ in range(40):
        place, streak, turns, last = 40, 0, [], 0
        while len(turns) < 14:
            move = 0
            if rng.random() < listener(fine[place]):
                streak += 1
                if streak == 2:
                    move, streak = -1, 0
            else:
                move, streak = 1, 0
            if move:
                if last and move != last:
                    turns.append(np.log(fine[place]))
                last, place = move, min(max(place + move, 0), 59)
        reached.append(np.mean(turns[4:]))
    search = Search(STEPS, proportion=0.5**0.5, width=None, most=40)
    ours = [found.value for found in (run(search, listener, rng) for _ in range(30)) if found.value is not None]
    assert len(ours) >= 28
    assert np.mean(np.log(ours)) == pytest.approx(np.mean(reached), abs=0.2)


def test_runs_played_by_the_rule_may_follow_and_others_may_not() -> None:
    search, rng, answers = Search(STEPS, 3, fewest=8, most=14), np.random.default_rng(6), list[Answer]()
    while (step := next_step(search, answers)) is not None:
        assert may_follow(search, answers, step)
        assert not may_follow(search, answers, None)
        assert sum(may_follow(search, answers, one) for one in STEPS) == 1
        answers.append((step, bool(rng.random() < 0.7)))
    assert may_follow(search, answers, None)
    assert not any(may_follow(search, answers, one) for one in (*STEPS, 0.7))


@pytest.mark.parametrize("at", [0.3, 0.6])
def test_a_quarter_of_blind_answers_hardly_moves_the_threshold(at: float) -> None:
    """24 answers at each step, right as often as such a listener is on average."""
    answers, right = list[Answer](), curve(at, 2.0, 0.25, 3)
    for step in STEPS:
        hits = round(24 * right(step))
        answers += [(step, True)] * hits + [(step, False)] * (24 - hits)
    assert threshold(Search(STEPS, 3), answers).value == pytest.approx(at, rel=0.2)


def test_the_threshold_is_read_at_the_proportion_asked_for() -> None:
    answers = [(0.6, True), (0.6, False), (1.0, True), (1.0, True), (1.0, False), (1.7, True), (3.0, True)] * 5
    found = [threshold(Search(STEPS, proportion=share), answers).value for share in (0.6, 0.75, 0.9)]
    assert found == sorted(found)
    assert len(set(found)) == 3


def test_the_order_of_the_answers_does_not_count() -> None:
    search = Search(STEPS)
    answers: list[Answer] = [(1.0, True), (0.6, False), (1.7, True), (1.0, False), (0.6, True)]
    assert threshold(search, answers) == threshold(search, answers[::-1])
    assert next_step(search, answers) == next_step(search, answers[::-1])


def test_a_run_ends_at_its_most_trials_or_when_the_interval_is_narrow_enough_but_not_before_the_fewest() -> None:
    sharp = [(0.6, True), (0.6, False)] * 10 + [(1.0, True)] * 20
    assert next_step(Search(STEPS, width=None, most=40), sharp) is None
    assert next_step(Search(STEPS, width=None, most=41), sharp) is not None
    found = threshold(Search(STEPS), sharp)
    assert found.place == "within"
    ratio = found.high / found.low
    assert next_step(Search(STEPS, width=ratio * 1.01), sharp) is None
    assert next_step(Search(STEPS, width=ratio * 0.99), sharp) is not None
    assert next_step(Search(STEPS, width=ratio * 1.01, fewest=41), sharp) is not None


def test_an_open_end_is_said_so() -> None:
    found = threshold(Search(STEPS), [(3.0, True), (5.0, True), (5.0, False), (5.0, True)] * 2)
    assert found.place == "undecided"
    assert found.high is None


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"steps": (1.0,)}, "two steps at least"),
        ({"steps": (2.0, 1.0)}, "from the smallest"),
        ({"steps": (0.0, 1.0)}, "above 0"),
        ({"steps": (1.0, inf)}, "above 0"),
        ({"alternatives": 4}, "2 or 3 presentations"),
        ({"proportion": 0.5}, "between guessing and 1"),
        ({"width": 1.0}, "a ratio above 1"),
        ({"fewest": 70}, "the fewest trials"),
        ({"level": 1.0}, "confidence level"),
    ],
)
def test_a_search_that_makes_no_sense_is_refused(given: dict[str, object], says: str) -> None:
    with pytest.raises(StatsError, match=says):
        Search(**{"steps": STEPS, **given})


def test_a_step_that_is_not_the_searchs_is_refused() -> None:
    with pytest.raises(StatsError, match="not one of the search's"):
        next_step(Search(STEPS), [(0.7, True)])
