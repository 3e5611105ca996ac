"""What was not measured is not told: gaps, ends, few points, and curves that do not stand for the setup."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio.curves.curve import Curve, difference, log_grid, mean_level
from audio.curves.gaps import gaps_of
from audio.errors import MeasureError
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_import, curve_records, curve_sentences, curve_summary, fact_rows, makers_facts
from sessions.measured.conditions import Conditions
from sessions.measured.curve_comparison import compare_setups
from sessions.measured.curve_import import Brought, Reading
from sessions.measured.makers_facts import OPEN, CheckedFact
from sessions.measured.member import Member

HZ = log_grid(10, 24_000, 48)
SPL = Conditions(distance_m=1.0, drive_volts=2.83, spl=True)


def bring(
    casebook: Casebook, setup: Setup, path: Path, values: np.ndarray | float, conditions: Conditions = SPL,
    *, hz: np.ndarray = HZ, unit: str = "dB", without: tuple[float, float] = (1.0, 1.0),
) -> Brought:  # fmt: skip
    kept = [
        (f, v) for f, v in zip(hz, np.broadcast_to(values, hz.shape), strict=True) if not without[0] < f < without[1]
    ]
    path.write_text(f"Hz {unit}\n" + "".join(f"{f:.4f} {v:.5f}\n" for f, v in kept))
    return curve_import.bring(casebook, setup, path, Reading(), conditions)


def said(casebook: Casebook, *setups: Setup) -> str:
    return "\n".join(curve_sentences.measurements_of(casebook, setups).sentences)


def judged(casebook: Casebook, setup: Setup, what: str, value: str) -> CheckedFact:
    fact_rows.keep(casebook, setup, what, value, "sheet")
    return next(one for one in makers_facts.of_setup(casebook, setup) if one.fact.what == what)


def test_a_difference_in_the_bass_of_two_that_both_fall_there_is_judged(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    """11.5 dB down below 100 Hz against 40 dB down: 28.5 dB apart where neither reaches -10 dB."""
    for setup, fall in ((sallow, 11.5), (bracken, 40.0)):
        bring(casebook, setup, tmp_path / "a.txt", np.where(HZ < 100, 85 - fall, 85))
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    assert found.audible is not None
    assert found.audible[1] == pytest.approx(28.5, abs=0.1)
    assert found.largest[1] == pytest.approx(28.5, abs=0.1)


def test_only_where_one_of_them_plays_is_said_to_be_judged(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup, fall in ((sallow, 45.0), (bracken, 60.0)):
        bring(casebook, setup, tmp_path / "a.txt", np.where(HZ < 100, 85 - fall, 85))
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    [(low, high)] = found.judged_hz
    assert (low, high) == (pytest.approx(97, abs=8), 10_000)
    assert f"nowhere from {low:.0f} to 10000 Hz" in curve_sentences.most(found)


def test_a_gap_is_wider_than_a_third_of_an_octave_and_than_the_usual_spacing() -> None:
    assert gaps_of(HZ) == gaps_of(np.arange(1.0, 20_000, 5.0)) == ()
    assert gaps_of(np.array([20, 25, 31.5, 40, 50, 63, 80, 100])) == ()  # bands of a third
    kept = HZ[(HZ <= 500) | (HZ >= 15_000)]
    [(low, high)] = gaps_of(kept)
    assert (low, high) == (pytest.approx(500, rel=0.02), pytest.approx(15_000, rel=0.02))
    assert len(gaps_of(np.concatenate([np.arange(5.0, 300, 2.5), np.arange(900.0, 20_000, 2.5)]))) == 1


def test_nothing_is_valid_and_no_mean_is_taken_over_a_gap() -> None:
    one = Curve(HZ, np.zeros(len(HZ)), gaps_hz=((500.0, 15_000.0),))
    assert not one.valid()[(HZ > 500) & (HZ < 15_000)].any()
    with pytest.raises(MeasureError, match="nothing was measured from 500 to 15000 Hz"):
        mean_level(one, 300, 3000)
    other = Curve(HZ, np.zeros(len(HZ)))
    apart = difference(one, other)
    assert not apart.valid()[(apart.hz > 500) & (apart.hz < 15_000)].any()
    assert apart.parts == [(HZ[0], 500.0), (15_000.0, HZ[-1])]


def test_a_hole_in_a_response_is_said_and_counts_as_not_measured(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    brought = bring(casebook, sallow, tmp_path / "a.txt", 85, without=(500, 15_000))
    assert any("nothing was measured from 49" in note for note in brought.notes)
    bring(casebook, bracken, tmp_path / "b.txt", 85)
    assert "cannot be compared: nothing was measured from" in said(casebook, sallow, bracken)
    level = curve_summary.sensitivity_of(brought.curves[0])
    assert level is not None
    assert level.band_hz == (300, pytest.approx(500, rel=0.02))
    assert judged(casebook, sallow, "sensitivity", "85 dB 2.83 V/1 m").outcome == OPEN
    found = judged(casebook, sallow, "range", "50 Hz - 20 kHz ±3 dB")
    assert (found.outcome, "nothing was measured from" in found.measured) == (OPEN, True)


def test_two_curves_with_a_hole_beside_their_common_band_are_judged_on_both_sides_of_it(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    for setup in (sallow, bracken):
        bring(casebook, setup, tmp_path / f"{setup.name}.txt", 85, without=(4000, 8000))
    text = said(casebook, sallow, bracken)
    assert "nowhere from 20 to 3" in text
    assert " Hz and from 8" in text


def test_an_impedance_with_a_hole_or_in_part_or_of_few_points_supports_no_rating(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    cases = (
        ({"without": (150, 15_000)}, "nothing was measured from 14"),
        ({"hz": log_grid(500, 2000, 24)}, "from 500 to 2000 Hz only: no rating follows"),
        ({"hz": np.array([20.0, 1000, 20_000])}, "3 points only"),
    )
    for place, (how, says) in enumerate(cases):
        bring(casebook, sallow, tmp_path / f"{place}.txt", 9.0, Conditions(), unit="ohm", **how)  # type: ignore[arg-type]
        text = said(casebook, sallow)
        assert says in text
        assert "supports" not in text
        found = judged(casebook, sallow, "nominal impedance", "8 ohm")
        assert (found.outcome, "supports" in found.measured) == (OPEN, False)
    record = curve_records.impedance_of(casebook, sallow)
    assert record is not None
    assert curve_summary.impedance_in_numbers(record).supports_ohm is None


def test_the_impedance_of_a_driver_or_a_side_does_not_stand_for_the_setup(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    whole = bring(casebook, sallow, tmp_path / "z.txt", 9.0, Conditions(), unit="ohm").curves[0]
    woofer = Conditions(member=Member(role="woofer"))
    alone = bring(casebook, sallow, tmp_path / "w.txt", 3.0, woofer, unit="ohm").curves[0]
    found = curve_records.impedance_of(casebook, sallow)
    assert found is not None
    assert found.id == whole.id
    kept = curve_records.of_setup(casebook, sallow).impedance
    assert kept is not None
    assert kept.id == whole.id
    shown = curve_records.alone(casebook, alone).impedance
    assert shown is not None
    assert shown.id == alone.id


def test_an_older_narrower_repeat_does_not_keep_two_from_being_compared(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    bring(casebook, sallow, tmp_path / "old.txt", 84, hz=log_grid(1000, 20_000, 24))
    for setup in (sallow, bracken):
        bring(casebook, setup, tmp_path / f"{setup.name}.txt", 85)
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    assert found.uncertainty_db is None


def test_a_sensitivity_over_part_of_its_band_or_from_too_near_cannot_be_told(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    bring(casebook, sallow, tmp_path / "a.txt", 85, hz=log_grid(2000, 20_000, 24))
    found = judged(casebook, sallow, "sensitivity", "85 dB 2.83 V/1 m")
    assert found.outcome == OPEN
    assert "(2000 to 3000 Hz)" in found.measured
    near = Conditions(distance_m=0.01, drive_volts=2.83, spl=True)
    record = bring(casebook, sallow, tmp_path / "n.txt", 125, near).curves[0]
    assert curve_summary.sensitivity_of(record) is None
    found = judged(casebook, sallow, "sensitivity", "85 dB 2.83 V/1 m")
    assert (found.outcome, "0.01 m" in found.measured) == (OPEN, True)
    assert "no sensitivity of sallow follows" in said(casebook, sallow)


def test_what_lies_at_a_limit_is_said_with_more_digits_and_not_judged(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    bring(casebook, sallow, tmp_path / "z.txt", 6.39, Conditions(), unit="ohm")
    found = judged(casebook, sallow, "nominal impedance", "8 ohm")
    assert found.outcome == OPEN
    assert "the least is 6.39 ohm" in found.measured
    assert "asks for 6.40" in found.measured
    assert found.measured.count("at the limit") == 1  # said once, and not of another rating beside it
    assert "at least 6.39 ohm" in said(casebook, sallow)
    bring(casebook, sallow, tmp_path / "a.txt", 85)
    for value, outcome in (("86.05 dB 2.83 V/1 m", OPEN), ("87.05 dB 2.83 V/1 m", OPEN)):
        found = judged(casebook, sallow, "sensitivity", value)
        assert (found.outcome, "at the limit" in found.measured, ".05 dB less" in found.measured) == (
            outcome, True, True,
        )  # fmt: skip


def test_a_difference_within_its_uncertainty_is_not_said_to_be_heard(
    casebook: Casebook, sallow: Setup, bracken: Setup, tmp_path: Path
) -> None:
    ripple = 3 * np.sin(np.log2(HZ) * 3)
    for setup, one, other in ((sallow, ripple, -ripple), (bracken, ripple, -0.5 * ripple)):
        for place, level in enumerate((one, other)):
            bring(casebook, setup, tmp_path / f"{setup.name}{place}.txt", 85 + level)
    found = compare_setups(casebook, sallow, bracken)
    assert found is not None
    assert "within the uncertainty" in curve_sentences.most(found)
    assert "can be heard there" not in curve_sentences.most(found)


def test_a_range_cannot_be_told_of_what_was_smoothed_more_widely(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    bring(casebook, sallow, tmp_path / "a.txt", 85, Conditions(smoothing=1.0))
    found = judged(casebook, sallow, "range", "50 Hz - 18 kHz ±3 dB")
    assert (found.outcome, "1/1 octave" in found.measured, "1/6" in found.measured) == (OPEN, True, True)
