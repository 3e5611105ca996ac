"""What is measured beside responses, as far as words point there: planted harmonics, planted directivity."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from audio.curves import decay
from audio.curves.curve import Curve
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook, create
from sessions.measured import curve_records
from sessions.measured.beside_words import Beside, beside_words, harmonics_percent
from sessions.measured.conditions import Conditions, Direction
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.measured.figures.responses import Distortion
from sessions.results.crosscheck import crosscheck
from sessions.results.crosschecked import Evidence, WordOfTwo
from sessions.words.lexicon import shipped

HZ = np.geomspace(50, 16_000, 200)
ABSOLUTE = Conditions(distance_m=1.0, drive_volts=2.83, spl=True)


def harmonics(*levels_db: float, clear: bool = True) -> Distortion:
    """Harmonics from the second on, level in dB against the fundamental everywhere."""
    curves = {order: Curve(HZ, np.full(len(HZ), db)) for order, db in enumerate(levels_db, start=2)}
    return Distortion("sallow", curves, {order: np.full(len(HZ), clear) for order in curves}, {}, "")


class TestHarmonics:
    def test_they_are_added_as_powers(self) -> None:
        """-40 dB is 1 %; a second one of 1 % makes √2 %."""
        assert harmonics_percent(harmonics(-40.0), 100, 10_000) == pytest.approx(1.0)
        assert harmonics_percent(harmonics(-40.0, -40.0), 100, 10_000) == pytest.approx(2**0.5)

    def test_what_does_not_stand_above_its_floor_is_nothing_and_what_was_not_measured_is_unknown(self) -> None:
        assert harmonics_percent(harmonics(-40.0, clear=False), 100, 10_000) == 0
        assert harmonics_percent(harmonics(-40.0), 20, 40) is None

    def test_a_rise_in_a_band_counts_there_alone(self) -> None:
        curve = Curve(HZ, np.where((HZ > 900) & (HZ < 2100), -20.0, -60.0))
        found = Distortion("sallow", {2: curve}, {2: np.full(len(HZ), True)}, {}, "")
        assert harmonics_percent(found, 1000, 2000) == pytest.approx(10, rel=0.05)
        assert harmonics_percent(found, 4000, 8000) == pytest.approx(0.1, rel=0.05)


@pytest.fixture
def book(tmp_path: Path) -> Casebook:
    made = create(tmp_path / "book")
    for name in ("sallow", "bracken"):
        catalogue.add_setup(made, name)
    return made


def setups(book: Casebook) -> list[Setup]:
    return [catalogue.find(book, Setup, name) for name in ("sallow", "bracken")]


def keep(book: Casebook, setup: Setup, *curves: NewCurve) -> None:
    named = f"{setup.name}-{len(curves)}.txt"
    curve_records.keep(book, setup, [(RawFile.of(named, named.encode()), list(curves))])


def flat(kind: str, level_db: float, conditions: Conditions, direction: Direction | None = None) -> NewCurve:
    data = np.column_stack([HZ, np.full(len(HZ), level_db)])
    return NewCurve(kind, direction or Direction("horizontal", 0), data, conditions)  # type: ignore[arg-type]


def test_distortion_of_both_is_given_where_both_had_one_drive(book: Casebook) -> None:
    for drives in ((None, None), (2.83, 1.0), (2.83, 2.83)):
        for setup, db, drive in zip(setups(book), (-26.0, -60.0), drives, strict=True):
            keep(book, setup, flat("distortion", db, Conditions(drive_volts=drive, harmonic=2)))
        found = beside_words(book, setups(book)).of("distortion", None, None)
        assert found is not None
        assert "harmonics of sallow 5 %, of bracken 0.1 %" in found.told
        if drives == (2.83, 2.83):
            assert found.percent == pytest.approx((5.0, 0.1), rel=0.01)
        else:
            assert found.percent is None
            assert "it is not stated that both had one drive" in found.told


def test_what_was_not_measured_of_both_is_nothing(book: Casebook) -> None:
    keep(book, setups(book)[0], flat("response", 85.0, ABSOLUTE))
    for kind in ("distortion", "directivity", "decay", "noise"):
        assert beside_words(book, setups(book)).of(kind, None, None) is None


def test_directivity_is_told_and_not_judged(book: Casebook) -> None:
    """One plays 6 dB less outside of the listening window, so its index lies some 5 dB higher; the other all round."""
    for setup, lower_db in zip(setups(book), (6.0, 0.0), strict=True):
        curves = []
        for plane, window in (("horizontal", 30), ("vertical", 10)):
            for angle in range(-170, 181, 10):
                if plane == "horizontal" or angle not in (0, 180):
                    db = -lower_db if abs(angle) > window else 0.0
                    curves.append(flat("response", db, Conditions(), Direction(plane, angle)))  # type: ignore[arg-type]
        keep(book, setup, *curves)
    found = beside_words(book, setups(book)).of("directivity", None, None)
    assert found is not None
    assert found.percent is None
    assert found.told.startswith("sallow sends its sound ")
    assert 4.0 < float(found.told.split()[4]) < 6.0


def ringing(tau_s: float, hz: float = 120.0, rate_hz: int = 8000) -> np.ndarray:
    """A sine that dies away as exp(-t/tau), after a tenth of a second of silence."""
    t = np.arange(rate_hz) / rate_hz
    return np.concatenate([np.zeros(rate_hz // 10), np.exp(-t / tau_s) * np.sin(2 * np.pi * hz * t + 0.5)])


def test_a_planted_decay_of_both_is_told_in_numbers_and_not_judged(book: Casebook) -> None:
    # an amplitude exp(-t/tau) has fallen by 20 dB at tau · ln 10
    for setup, tau_s in zip(setups(book), (0.05, 0.02), strict=True):
        conditions = Conditions(gate_ms=500.0, window="half-tukey")
        impulse = NewCurve("impulse", Direction("horizontal", 0), ringing(tau_s), conditions, 8000)
        keep(book, setup, impulse)
    found = beside_words(book, setups(book)).of("decay", 60, 250)
    assert found is not None
    read = re.findall(r"60 to 250 Hz of (\w+) fall by 20 dB in (\d+) ms, within a gate of 500 ms", found.told)
    assert [name for name, _ in read] == ["sallow", "bracken"]
    assert [float(ms) for _, ms in read] == pytest.approx([115.1, 46.1], rel=0.05)
    assert "not agreed on: 0.2 s from 100 Hz on" in found.told
    for setup in setups(book):  # as a set of angles has one too, which takes the impulse's place as the response
        keep(book, setup, flat("response", 0.0, Conditions(), Direction("horizontal", 0)))
    assert beside_words(book, setups(book)).of("decay", 60, 250) == found
    low = beside_words(book, setups(book)).of("decay", 105, 135)  # so narrow a band rings for 0.1 s by itself
    assert low is not None
    assert "of bracken fall by 20 dB as fast as so wide a band can" in low.told
    word = WordOfTwo("loose", True, "heard", "")
    beside = beside_words(book, setups(book))
    [one] = crosscheck([word], ("sallow", "bracken"), shipped(), lambda low, high: None, beside_of=beside.of)
    assert one.outcome == "cannot be told"
    assert "20 to 250 Hz of sallow fall by 20 dB in" in one.why


def test_a_gate_that_is_too_short_for_a_decay_or_a_band_is_told() -> None:
    impulse = ringing(0.2)
    assert decay.band_fall_s(impulse, 8000, 0.9, (60, 250)) == pytest.approx(0.2 * np.log(10), rel=0.05)
    assert decay.band_fall_s(impulse, 8000, 0.5, (60, 250)) is None  # 0.46 s is more than 0.6 of the gate
    assert decay.band_fall_s(ringing(0.02), 8000, 0.5, (60, 250)) == pytest.approx(0.046, rel=0.05)
    click = np.zeros(8000)
    click[800] = 1.0
    alone = decay.band_fall_s(click, 8000, 0.5, (60, 250))  # what the band itself rings
    assert alone is not None
    assert alone < 0.02  # some three times one over its width of 190 Hz


def test_a_short_gate_and_an_impedance_are_told_in_words(book: Casebook) -> None:
    for setup, gate_ms, lowest_ohm in zip(setups(book), (5.0, 500.0), (3.2, 6.4), strict=True):
        conditions = Conditions(gate_ms=gate_ms, window="half-tukey")
        keep(book, setup, NewCurve("impulse", Direction("horizontal", 0), ringing(0.05), conditions, 8000))
        ohm = np.column_stack([HZ, np.where(np.abs(HZ - 150) < 10, lowest_ohm, 12.0)])
        keep(book, setup, *[NewCurve("impedance", Direction("horizontal", 0), ohm, Conditions())] * 2)
    beside = beside_words(book, setups(book))
    found = beside.of("decay", 60, 250)
    assert found is not None
    assert found.told.startswith("a gate of 5 ms is too short to tell how sallow decays there; 60 to 250 Hz of bracken")
    told = beside.of("impedance", None, None)
    assert told is not None
    assert re.match(
        r"the impedance of sallow falls to 3\.2 ohm at 1\d\d Hz; the impedance of bracken falls to 6\.4", told.told
    )
    assert "hangs on the amplifier" in told.told


@pytest.mark.parametrize(
    ("term", "evidence", "first", "percent", "says"),
    [
        ("distorted", "heard", True, (5.0, 0.1), "heard and measured"),
        ("distorted", "heard", False, (5.0, 0.1), "heard, not measured"),
        ("distorted", "heard", True, (1.0, 0.1), "cannot be told"),
        ("distorted", "said", True, (0.3, 0.1), "said, not measured"),
        ("distorted", "said", True, (5.0, 7.0), "said, not measured"),
        ("distorted", "said", True, (5.0, 6.0), "cannot be told"),  # which has more: 1.6 dB apart, less than the step
        ("distorted", "heard", True, (3.001, 3.0), "cannot be told"),
        ("distorted", "not shown", None, (3.001, 3.0), "cannot be told"),
        ("distorted", "heard", True, (3.2, 2.5), "heard and measured"),  # 2.1 dB
        ("distorted", "heard", True, (0.5, 0.49), "heard, not measured"),  # too little for anybody, whoever has more
        ("distorted", "not shown", None, (0.1, 5.0), "measured, not heard"),
        ("distorted", "not shown", None, (0.1, 0.2), "neither heard nor measured"),
        ("distorted", "heard", True, None, "cannot be told"),
        ("clear", "heard", True, (5.0, 0.1), "cannot be told"),  # it could be about several things
    ],
)
def test_a_word_for_distortion_alone_is_judged_by_it(
    term: str, evidence: Evidence, first: bool | None, percent: tuple[float, float] | None, says: str
) -> None:
    def beside(kind: str, low_hz: float | None, high_hz: float | None) -> Beside | None:
        return Beside(kind, "harmonics told", percent) if kind == "distortion" else None

    word = WordOfTwo(term, first, evidence, "")
    [one] = crosscheck([word], ("sallow", "bracken"), shipped(), lambda low, high: None, beside_of=beside)
    assert one.outcome == says
    assert "harmonics told" in one.why


def test_distortion_of_the_one_that_got_the_word_less_is_the_other_way_round() -> None:
    word = WordOfTwo("distorted", None, "enough alone", "", more=True)
    [one] = crosscheck(
        [word],
        ("sallow", "bracken"),
        shipped(),
        lambda low, high: None,
        beside_of=lambda *_: Beside("distortion", "told", (0.1, 5.0)),
    )
    assert one.outcome == "measured the other way round, enough by its ballot alone"


def test_where_nothing_of_a_words_kind_was_measured_that_is_said() -> None:
    word = WordOfTwo("ringing", True, "said", "")
    [one] = crosscheck([word], ("sallow", "bracken"), shipped(), lambda low, high: None)
    assert (one.outcome, one.why) == (
        "cannot be told",
        "it could show in decay, on-axis, and nothing measured of both here tells of it",
    )
