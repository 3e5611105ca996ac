"""Sequential tests against simulation, brute force and their own promises."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import binom

from stats.errors import StatsError
from stats.sequential import e_process
from stats.sequential.boundaries import Boundaries
from stats.sequential.operating_characteristics import characteristics, p_value
from stats.sequential.sprt import sprt, wald_lines
from stats.validation import Alternative

REGIONS = {
    "sprt": lambda: (sprt(40, 0.75), 0.5),
    "sprt, two-sided": lambda: (sprt(40, 0.75, alternative="two-sided"), 0.5),
    "sprt, chance 1/3": lambda: (sprt(30, 2 / 3, chance=1 / 3), 1 / 3),
    "e-process": lambda: (e_process.e_process(40), 0.5),
    "e-process, two-sided": lambda: (e_process.e_process(40, alternative="two-sided"), 0.5),
    "e-process, chance 1/3": lambda: (e_process.e_process(40, chance=1 / 3), 1 / 3),
}


def walked(region: Boundaries, answers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whether each row of answers is heard, and after how many trials it stops, step by step."""
    heard, stopped = np.zeros(len(answers), bool), np.zeros(len(answers), int)
    counts = np.cumsum(answers, axis=1)
    for row, line in enumerate(counts):
        for n, count in enumerate(line.tolist(), 1):
            decided = region.decision(n, count)
            if decided is not None:
                heard[row], stopped[row] = decided == "heard", n
                break
    return heard, stopped


@pytest.mark.parametrize("name", REGIONS)
def test_exact_characteristics_are_what_simulation_finds(name: str) -> None:
    region, chance = REGIONS[name]()
    rng = np.random.default_rng(3)
    for proportion in (chance, 0.75):
        found = characteristics(region, proportion)
        heard, stopped = walked(region, rng.random((3000, region.trials)) < proportion)
        assert heard.mean() == pytest.approx(
            found.heard, abs=4 * (found.heard * (1 - found.heard) / 3000) ** 0.5 + 1e-9
        )
        assert stopped.mean() == pytest.approx(found.expected_trials, abs=4 * stopped.std() / 3000**0.5)
        assert found.stops.sum() == pytest.approx(1)


@pytest.mark.parametrize("name", REGIONS)
def test_the_real_error_rate_is_at_most_alpha(name: str) -> None:
    region, chance = REGIONS[name]()
    assert 0 < characteristics(region, chance).heard <= 0.05
    if not region.two_sided:
        assert characteristics(region, chance * 0.8).heard <= 0.05  # worse than chance, too


@pytest.mark.parametrize("trials", [5, 9, 12])
@pytest.mark.parametrize("two_sided", [False, True])
def test_short_tests_agree_with_every_row_of_answers(trials: int, two_sided: bool) -> None:
    side = "two-sided" if two_sided else "greater"
    region = sprt(trials, 0.8, alpha=0.1, alternative=side)  # type: ignore[arg-type]
    rows = np.array(list(product((0, 1), repeat=trials)))
    heard, stopped = walked(region, rows)
    for proportion in (0.5, 0.7):
        chances = proportion ** rows.sum(axis=1) * (1 - proportion) ** (trials - rows.sum(axis=1))
        found = characteristics(region, proportion)
        assert found.heard == pytest.approx(chances[heard].sum(), abs=1e-12)
        assert found.expected_trials == pytest.approx((chances * stopped).sum(), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.integers(3, 60), st.sampled_from([0.01, 0.05, 0.1, 0.2]), st.sampled_from([0.65, 0.75, 0.9]))
def test_a_cut_off_test_keeps_alpha_whatever_its_length(trials: int, alpha: float, effect: float) -> None:
    assert characteristics(sprt(trials, effect, alpha), 0.5).heard <= alpha
    assert characteristics(sprt(trials, effect, alpha, alternative="two-sided"), 0.5).heard <= alpha
    assert characteristics(e_process.e_process(trials, alpha), 0.5).heard <= alpha


def test_p_values_of_a_sequential_test_are_valid_and_agree_with_its_verdict() -> None:
    """P(p ≤ u) ≤ u under chance for every u that occurs; heard exactly where p is at most the real error rate."""
    for side in ("greater", "two-sided"):
        region = sprt(14, 0.8, alternative=side)  # type: ignore[arg-type]
        rows = np.array(list(product((0, 1), repeat=14)))
        heard, stopped = walked(region, rows)
        counts = np.cumsum(rows, axis=1)[np.arange(len(rows)), stopped - 1]
        known = {(n, c): p_value(region, n, c, 0.5) for n, c in set(zip(stopped, counts, strict=True))}
        p_values = np.array([known[n, c] for n, c in zip(stopped, counts, strict=True)])
        for level in set(p_values):
            assert (p_values <= level + 1e-12).mean() <= level + 1e-9
        real = characteristics(region, 0.5).heard
        assert (heard == (p_values <= real + 1e-12)).all()


def test_a_test_that_goes_on_has_no_p_value() -> None:
    with pytest.raises(StatsError, match="goes on after 2 of 3"):
        p_value(sprt(40, 0.75), 3, 2, 0.5)


@pytest.mark.parametrize("chance", [0.5, 1 / 3])
def test_e_values_are_the_mixture_they_are_said_to_be(chance: float) -> None:
    for right, trials in ((3, 4), (9, 12), (5, 20)):
        powers = (right, trials - right)
        mixed = quad(lambda p, s, f: p**s * (1 - p) ** f, chance, 1, args=powers, epsabs=0, epsrel=1e-11)[0] / (
            1 - chance
        )
        wanted = mixed / (chance**right * (1 - chance) ** (trials - right))
        assert e_process.e_value(right, trials, chance) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("side", ["greater", "two-sided"])
def test_the_mean_e_value_under_chance_is_one(side: str) -> None:
    for trials in (1, 5, 16, 40):
        right = np.arange(trials + 1)
        values = [e_process.e_value(int(s), trials, alternative=side) for s in right]  # type: ignore[arg-type]
        assert binom.pmf(right, trials, 0.5) @ values == pytest.approx(1, abs=1e-9)
    assert e_process.e_value(0, 0) == 1


def test_the_anytime_p_is_one_over_the_largest_e_on_the_way() -> None:
    answers = [1, 1, 1, 1, 1, 1, 0, 1, 0, 0]
    counts = np.cumsum(answers)
    largest = max(e_process.e_value(int(c), n) for n, c in enumerate(counts, 1))
    assert e_process.anytime_p(answers) == pytest.approx(1 / largest)
    assert e_process.anytime_p([]) == 1.0
    assert e_process.anytime_p([0, 0, 0]) == 1.0


def test_a_confidence_sequence_covers_at_every_number_of_trials_at_once() -> None:
    rng = np.random.default_rng(8)
    for share in (0.5, 0.8):
        missed = 0
        for _ in range(400):
            counts = np.cumsum(rng.random(60) < share)
            missed += any(
                not found.low <= share <= found.high
                for found in (
                    e_process.confidence_sequence(int(counts[n - 1]), n) for n in (1, 2, 4, 8, 15, 30, 45, 60)
                )
            )
        assert missed / 400 <= 0.05 + 4 * (0.05 * 0.95 / 400) ** 0.5


def test_boundaries_survive_being_written_down() -> None:
    region = sprt(30, 0.75, alternative="two-sided")
    again = Boundaries.from_document(region.to_document())
    assert all((getattr(region, part) == getattr(again, part)).all() for part in region.to_document())


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: sprt(0, 0.75), "trials must be a whole number from 1"),
        (lambda: sprt(20, 0.5), "between chance (0.5) and 1"),
        (lambda: sprt(20, 0.75, 0.6, 0.5), "must sum to less than 1"),
        (lambda: sprt(20, 0.75, chance=1 / 3, alternative="two-sided"), "two-sided at chance 1/2"),
        (lambda: e_process.e_process(20, chance=0.3, alternative="two-sided"), "chance 1/2 only"),
        (lambda: e_process.e_process(20, alternative="less"), "one-sided (greater) or two-sided"),
        (lambda: sprt(20, 0.75).decision(3, 4), "4 of 3 answers is not possible"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object, says: str) -> None:
    import re

    assert callable(call)
    with pytest.raises(StatsError, match=re.escape(says)):
        call()


@pytest.mark.parametrize(
    ("trials", "effect", "alpha", "side"),
    [(300, 0.6, 0.05, "two-sided"), (300, 0.7, 0.001, "two-sided"), (300, 0.6, 0.1, "greater")],
)
def test_walds_upper_line_is_raised_where_it_would_err_too_often(
    trials: int, effect: float, alpha: float, side: Alternative
) -> None:
    """With beta 1/2 his lines alone err in 6.0, 0.11 and 10.1 % of these, by the same exact recursion."""
    lines = wald_lines(effect, alpha / 2 if side == "two-sided" else alpha, 0.5)
    n = np.arange(1, trials + 1)
    plain = Boundaries.from_lines(
        np.ceil(lines.upper + lines.slope * n - 1e-9).astype(int),
        np.floor(lines.lower + lines.slope * n + 1e-9).astype(int),
        two_sided=side == "two-sided",
    )
    assert characteristics(plain, 0.5).heard > alpha
    assert 0.9 * alpha < characteristics(sprt(trials, effect, alpha, 0.5, alternative=side), 0.5).heard <= alpha


@pytest.mark.parametrize(
    ("trials", "effect", "chance", "side"),
    [
        (40, 0.75, 0.5, "greater"),
        (40, 0.75, 0.5, "two-sided"),
        (16, 0.75, 0.5, "greater"),
        (24, 2 / 3, 1 / 3, "greater"),
    ],
)
def test_the_last_trial_asks_for_no_more_than_alpha_needs(
    trials: int, effect: float, chance: float, side: Alternative
) -> None:
    found = sprt(trials, effect, chance=chance, alternative=side)
    lines = wald_lines(effect, 0.025 if side == "two-sided" else 0.05, 0.1, chance)
    n = np.arange(1, trials + 1)
    easier = found.heard_from.copy()
    easier[-1] -= 1
    quit_to = np.floor(lines.lower + lines.slope * n + 1e-9).astype(int)
    rebuilt = Boundaries.from_lines(easier, quit_to, two_sided=side == "two-sided")
    assert characteristics(found, chance).heard <= 0.05 < characteristics(rebuilt, chance).heard


def gone_through_to_the_end(side: Alternative) -> Boundaries:
    """Heard at six of eight or at seven of nine; given up at none or one of six, otherwise never before the end."""
    heard_from, quit_to = np.arange(2, 11), np.full(9, -1)
    heard_from[7:] = 6, 7
    quit_to[5] = 1 if side == "greater" else 3
    return Boundaries.from_lines(heard_from, quit_to, two_sided=side == "two-sided", to_the_end=True)


@pytest.mark.parametrize("side", ["greater", "two-sided"])
@pytest.mark.parametrize("made", [lambda side: sprt(9, 0.8, alpha=0.2, alternative=side), gone_through_to_the_end])
def test_p_values_are_the_chances_of_all_ends_at_least_as_far(
    made: Callable[[Alternative], Boundaries], side: Alternative
) -> None:
    """Every row of nine answers, walked: heard early before late, given up late before early, then by the count."""
    found, trials = made(side), 9
    chances: dict[tuple[int, int], float] = {}
    for row in product((0, 1), repeat=trials):
        for n in range(1, trials + 1):
            if found.decision(n, sum(row[:n])) is not None:
                chances[n, sum(row[:n])] = chances.get((n, sum(row[:n])), 0) + 0.5**trials
                break

    def far(end: tuple[int, int]) -> tuple[int, int, int]:
        n, count = end
        size = max(count, n - count) if side == "two-sided" else count
        return (1, -n, size) if found.decision(n, count) == "heard" else (0, n, size)

    assert {found.decision(*end) for end in chances} == {"heard", "not shown"}
    for end in chances:
        wanted = sum(chance for other, chance in chances.items() if far(other) >= far(end))
        assert p_value(found, *end, 0.5) == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("name", REGIONS)
def test_half_of_the_tests_are_over_by_the_median(name: str) -> None:
    region, chance = REGIONS[name]()
    for proportion in (chance, 0.7, 0.9):
        found = characteristics(region, proportion)
        over = np.cumsum(found.stops)
        assert over[found.median_trials - 1] >= 0.5
        assert found.median_trials == 1 or over[found.median_trials - 2] < 0.5
        assert found.expected_trials == pytest.approx(1 + (1 - over[:-1]).sum())  # the sum of P(longer than n)


@pytest.mark.parametrize("trials", [1, 4, 5, 9, 12, 16, 40])
@pytest.mark.parametrize("side", ["greater", "two-sided"])
def test_an_e_process_is_given_up_exactly_where_it_is_hopeless(trials: int, side: Alternative) -> None:
    found = e_process.e_process(trials, alternative=side)
    heard = e_process.e_value

    def hopeful(n: int, count: int) -> bool:
        """Whether answers all right (or all wrong) from here would reach 20 by the last trial."""
        ways = [(n + more, count + more) for more in range(trials - n + 1)]
        ways += [(n + more, count) for more in range(trials - n + 1)] if side == "two-sided" else []
        return any(heard(right, of, 0.5, side) >= 20 and (side == "two-sided" or right > of / 2) for of, right in ways)

    open_now = {0}
    for n in range(1, trials + 1):
        reached = {count + right for count in open_now for right in (0, 1)}
        for count in reached:
            over = found.decision(n, count)
            enough = heard(count, n, 0.5, side) >= 20
            assert over == ("heard" if enough else "not shown" if n == trials or not hopeful(n, count) else None)
        open_now = {count for count in reached if found.decision(n, count) is None}
    assert open_now == set()
