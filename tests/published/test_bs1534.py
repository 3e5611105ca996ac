"""ITU-R BS.1534-3 (10/2015): post-screening, quartiles, bimodality, the anchors' mask.

The rules were read in public notes that cite the Recommendation page by page; the vectors were computed from the rules.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import freqz

from audio.anchors import low_pass
from stats import multi_stimulus
from stats.post_screening import by_reference_and_anchor as post_screen


def screened(reference: list[float], anchor: list[float] | None = None) -> bool:
    """Whether a listener with these grades is kept, alone in a panel."""
    anchors = [30.0] * len(reference) if anchor is None else anchor
    return "Ada" in post_screen({"Ada": reference}, {"Ada": anchors}).kept


@pytest.mark.parametrize(
    ("items", "misses", "kept"),
    [(12, 1, True), (12, 2, False), (20, 3, True), (20, 4, False), (6, 1, False), (6, 0, True)],
)
def test_the_hidden_reference_may_be_missed_in_fifteen_per_cent_of_the_items(
    items: int, misses: int, kept: bool
) -> None:
    """4.1.2, p. 5: excluded if below 90 on MORE than 15 % of the items; 3 of 20 is 15 % exactly."""
    assert screened([89.0] * misses + [95.0] * (items - misses)) is kept


def test_ninety_is_neither_below_nor_above() -> None:
    assert screened([90.0] * 10)
    assert screened([100.0] * 10, [90.0] * 10)


def test_a_high_mid_anchor_excludes_unless_a_quarter_of_the_panel_hears_it_so() -> None:
    """4.1.2, p. 5: items whose mid anchor MORE than 25 % of the assessors grade above 90 count against nobody."""
    good = {name: [100.0] * 4 for name in "ABCDE"}
    plain = {name: [30.0] * 4 for name in "ABCDE"}
    alone = plain | {"A": [95.0, 30.0, 30.0, 30.0]}
    assert post_screen(good, alone).kept == ("B", "C", "D", "E")
    shared = alone | {"B": [95.0, 30.0, 30.0, 30.0]}  # two of five: 40 % of the panel
    assert post_screen(good, shared).kept == tuple("ABCDE")
    eleven = {name: [30.0] * 4 for name in "ABCDEFGHIJK"} | {name: [95.0, 30.0, 30.0, 30.0] for name in "ABC"}
    assert len(post_screen({n: [100.0] * 4 for n in eleven}, eleven).kept) == 11  # 27 % of the panel
    four = {name: row for name, row in alone.items() if name != "E"}  # one of four is 25 % exactly: no exception
    assert post_screen({n: good[n] for n in four}, four).kept == ("B", "C", "D")


@pytest.mark.parametrize(
    ("grades", "wanted"),
    [
        (list(range(1, 10)), (3, 5, 7)),
        (list(range(1, 11)), (3, 5.5, 8)),  # quantiles by interpolation would be 3.25 and 7.75
        ([20, 40, 53, 61, 76, 87, 96, 100], (46.5, 68.5, 91.5)),
    ],
)
def test_quartiles_are_medians_of_the_halves(grades: list[float], wanted: tuple[float, float, float]) -> None:
    assert multi_stimulus.hinges(grades) == wanted


@pytest.mark.parametrize(
    ("grades", "wanted"), [([10, 11, 12, 13, 88, 89, 90, 91], 0.4746), (list(range(0, 101, 10)), 0.3371)]
)
def test_the_bimodality_coefficient(grades: list[float], wanted: float) -> None:
    """9.1, p. 14, with bias-corrected skewness and kurtosis (computed)."""
    assert multi_stimulus.summary(grades).bimodality == pytest.approx(wanted, abs=5e-5)


def test_means_with_t_intervals() -> None:
    """9.1: means with 95 % intervals as well (computed with t .975, 9 = 2.26216)."""
    found = multi_stimulus.summary([72, 65, 80, 58, 77, 69, 74, 81, 63, 70])
    assert (found.mean, found.median) == (70.9, 71)
    assert (found.low, found.high) == (pytest.approx(65.563, abs=5e-4), pytest.approx(76.237, abs=5e-4))


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("edge_hz", [3500, 7000])
def test_anchors_keep_to_their_mask(rate_hz: int, edge_hz: int) -> None:
    """5.1, p. 7: ripple ±0.1 dB up to 3.5 kHz, 25 dB down at 4 kHz, 50 dB at 4.5 kHz; twice that for 7 kHz (ours)."""
    hz, response = freqz(low_pass(rate_hz, edge_hz), worN=1 << 16, fs=rate_hz)
    level = 20 * np.log10(np.abs(response) + 1e-12)
    assert np.abs(level[hz <= edge_hz]).max() <= 0.1
    assert level[hz >= edge_hz * 4 / 3.5].max() <= -25
    assert level[hz >= edge_hz * 4.5 / 3.5].max() <= -50


@pytest.mark.parametrize(("high", "items", "kept"), [(3, 20, True), (4, 20, False), (1, 6, False), (1, 12, True)])
def test_the_mid_anchor_may_be_high_in_fifteen_per_cent_of_the_items_graded(high: int, items: int, kept: bool) -> None:
    """4.1.2, p. 5, with seven others who find it low, and items that this listener left out."""
    good = {name: [100.0] * items for name in "ABCDEFGH"}
    plain: dict[str, list[float | None]] = {name: [30.0] * items for name in "ABCDEFGH"}
    plain["A"] = [95.0] * high + [30.0] * (items - high)
    assert ("A" in post_screen(good, plain).kept) is kept
    longer = {name: row + [30.0] * items for name, row in plain.items()} | {"A": [*plain["A"], *[None] * items]}
    twice = {name: row * 2 for name, row in good.items()}
    assert ("A" in post_screen(twice, longer).kept) is kept


def test_one_grade_has_no_spread() -> None:
    found = multi_stimulus.summary([70.0])
    assert (found.grades, found.mean, found.median, found.q1, found.q3) == (1, 70.0, 70.0, 70.0, 70.0)
    assert (found.low, found.high, found.bimodality) == (None, None, None)


def test_two_grades_have_an_interval_of_their_own() -> None:
    """Of 60 and 80: 70 plus or minus 12.7062 (t .975, 1 degree of freedom, printed) times 10."""
    found = multi_stimulus.summary([60.0, 80.0])
    assert (found.low, found.high) == pytest.approx((70 - 127.062, 70 + 127.062), abs=1e-3)
