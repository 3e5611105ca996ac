"""Every blind method on a real casebook: planned, sealed, answered, judged, checked by the stand-alone program."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from importlib.resources import files as package_files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.random import PCG64, Generator
from scipy.stats import binomtest

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import loudspeakers, tracks
from sessions.casebook import catalogue
from sessions.casebook.catalogue import Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.errors import ListenError, PlanError
from sessions.listening import session, simulated_listener
from sessions.plans import drafting, trial_keys
from sessions.plans.drafting import Wish
from sessions.plans.methods import METHODS, answer_of, grades_of, score
from sessions.plans.plan import Plan
from sessions.preparation import match_files, prepared_audio, recording_folder
from sessions.report import contents, page
from sessions.results import review, sentences, verification
from sessions.results.plan_record import record
from sessions.results.verdict import Verdict

SETUPS = ("sallow", "bracken", "sallow-late")
PAIR = SETUPS[:2]
LENGTH_S = 3.0


@pytest.fixture(scope="module")
def three_setups(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with three matched setups and two passages."""
    home = tmp_path_factory.mktemp("three")
    with create(home / "book") as casebook:
        for name in SETUPS:
            (home / name).mkdir()
            for place, piece in enumerate(("strings", "drums")):
                whole = reading.read(tracks.path(piece))
                start = Clip(whole.samples[: round(LENGTH_S * whole.rate_hz)], whole.rate_hz)
                played = loudspeakers.render(name, start.samples, start.rate_hz)
                writing.write(home / name / f"{piece}.flac", Clip(played, start.rate_hz), seed=place)
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), home / name)
        for track in catalogue.everything(casebook, Track):
            catalogue.add_passage(casebook, track, 0, round(LENGTH_S * 48_000), 48_000, f"{track.name} 1")
        selection = match_files.select(casebook, [], [])
        match_files.make_match_sheet(casebook, selection)
        match_files.check_giveaways(casebook, selection)
    return home / "book"


@pytest.fixture
def book(three_setups: Path, tmp_path: Path) -> Iterator[Casebook]:
    shutil.copytree(three_setups, tmp_path / "book")
    with open_casebook(tmp_path / "book") as opened:
        yield opened


def sealed(book: Casebook, name: str = "evening", **wish: Any) -> Plan:
    wish.setdefault("listeners", ("Ada",))
    wish.setdefault("setups", PAIR if METHODS[wish["method"]].setups[1] == 2 else SETUPS)
    drafting.draft(book, Wish(**wish), name)
    return drafting.seal(book, name).plan


def answer_all(book: Casebook, hears: float, listener: str = "Ada", plan: str = "evening", most: int = 10_000) -> None:
    """Answer as a listener who hears it in a share of the trials, by looking at the key (as a test may)."""
    rng = Generator(PCG64(11))
    with session.begin(book, plan, listener, "none: test") as running:
        while most and (offered := running.next_trial()) is not None:
            most -= 1
            answer = simulated_listener._answer(running.plan, offered.key, bool(rng.random() < hears), rng)
            for label in running.plan.method.stimuli:
                running.audition(offered, label, 0, 48_000)
            running.answer(offered, answer, 3, 4000)


def verdict_of(book: Casebook, name: str = "evening") -> Verdict:
    return review.verdicts(book, name)[0]


def checked_alone(book: Casebook, folder: Path, name: str = "evening") -> str:
    """What the stand-alone program of the sealing rule says of a plan's record."""
    rule = (package_files("sessions.plans") / "sealing.md").read_text(encoding="utf-8")
    found = re.search(r"```python\n(.*?)```", rule, re.DOTALL)
    assert found is not None
    (folder / "check.py").write_text(found.group(1), encoding="utf-8")
    told = record(book, drafting.sealed_row(book, name))
    (folder / "record.json").write_text(json.dumps(told), encoding="utf-8")
    command = [sys.executable, "-I", "-S", "check.py", "record.json"]  # the standard library alone
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


WISHES: dict[str, dict[str, Any]] = {
    "abx": {"trials": 10, "controls": 3},
    "preference": {"trials": 10},
    "triangle": {"trials": 9, "controls": 2},
    "duo-trio": {"trials": 10},
    "tetrad": {"trials": 9},
    "same-different": {"trials": 12},
    "hidden-reference": {"trials": 8, "controls": 2},
    "multi-stimulus": {"trials": 4},
    "round-robin": {"trials": 12, "controls": 2},
}


@pytest.mark.parametrize("method", WISHES)
def test_a_listener_who_hears_it_is_found_and_the_record_holds(book: Casebook, method: str, tmp_path: Path) -> None:
    plan = sealed(book, method=method, **WISHES[method])
    answer_all(book, 1.0)
    found = verdict_of(book)
    assert found.state == "complete"
    assert found.answered == plan.trials  # controls are answered, and do not count
    if method == "multi-stimulus":  # four trials cannot show it: the least p is 2/16, times three pairs
        assert found.verdict == "not shown"
        assert found.p_value is not None
        assert found.p_value >= 3 * 2 / 16
    else:
        assert found.verdict == "heard", sentences.sentences(found)
    assert verification.verify(book).ok
    assert "seal and keys fit" in checked_alone(book, tmp_path)
    text = page.render(contents.gather(book, "what was heard"))
    assert text.count("<svg") >= 2
    assert "nan" not in re.sub(r"<[^>]*>", "", text).lower().split()


@pytest.mark.parametrize("method", [m for m in WISHES if METHODS[m].family == "count"])
def test_a_count_is_judged_by_the_exact_test_of_its_chance(book: Casebook, method: str, tmp_path: Path) -> None:
    sealed(book, method=method, **(WISHES[method] | {"controls": 0}))
    answer_all(book, 0.3)
    found = verdict_of(book)
    chance = 1 / 3 if method in ("triangle", "tetrad") else 0.5
    side = "two-sided" if method == "preference" else "greater"
    wanted = binomtest(found.correct or 0, found.trials, chance, alternative=side).pvalue
    assert found.p_value == pytest.approx(wanted, rel=1e-9)
    told = checked_alone(book, tmp_path)
    assert f"p = {wanted:.6f}" in told


@pytest.mark.parametrize("method", WISHES)
def test_keys_are_fair(method: str) -> None:
    """Every arrangement of a method comes equally often (chi-square below its 0.1 % point, fixed secret)."""
    from scipy.stats import chi2

    setups = 3 if METHODS[method].setups[1] > 2 else 2
    document = {"method": method, "setups": [{}] * setups, "trials": 10_000}
    seen: dict[str, int] = {}
    trials = 3000
    for trial in range(1, trials + 1):
        key = trial_keys.key(document, b"\x07" * 32, "listener-a", trial, 1)
        seen[json.dumps(key)] = seen.get(json.dumps(key), 0) + 1
    arrangements = {"abx": 2, "preference": 2, "triangle": 6, "duo-trio": 4, "tetrad": 6, "same-different": 4}
    wanted = arrangements.get(method, {"hidden-reference": 2, "multi-stimulus": 120, "round-robin": 6}.get(method, 0))
    assert len(seen) == wanted
    even = trials / wanted
    assert sum((count - even) ** 2 / even for count in seen.values()) < chi2.isf(0.001, wanted - 1)


def test_passages_and_pairs_are_balanced_and_say_nothing_of_the_order() -> None:
    document = {"method": "round-robin", "setups": [{}] * 3, "trials": 12}
    pairs = [tuple(sorted(trial_keys.key(document, b"s" * 32, "a", t, 1).values())) for t in range(1, 13)]
    assert all(pairs.count(pair) == 4 for pair in ((0, 1), (0, 2), (1, 2)))
    assert sorted(trial_keys.passage_index(b"s" * 32, "a", t, 3) for t in range(1, 13)) == [0] * 4 + [1] * 4 + [2] * 4


def test_controls_are_the_same_setup_throughout_and_spread_by_the_secret() -> None:
    document = {"method": "abx", "setups": [{}] * 2, "trials": 10, "controls": 4}
    spread = {tuple(sorted(trial_keys.controls(document, bytes([n]) * 32, "a"))) for n in range(20)}
    assert len(spread) > 15
    for trial in range(1, 15):
        key = trial_keys.key(document, b"\x01" * 32, "a", trial, 1)
        assert (len(set(key.values())) == 1) == (trial in trial_keys.controls(document, b"\x01" * 32, "a"))


def test_a_control_that_was_answered_never_counts(book: Casebook) -> None:
    sealed(book, method="preference", trials=6, controls=4)
    with session.begin(book, "evening", "Ada", "none: test") as running:
        while (offered := running.next_trial()) is not None:
            control = len(set(offered.key.values())) == 1
            first = "1" if offered.key["1"] == 0 else "2"
            running.answer(offered, "2" if control else first, 2, 3000)
    found = verdict_of(book)
    assert (found.correct, found.trials) == (6, 6)
    assert found.beside["health"]["Ada"]["controls"]["sides"]["counts"] == {"1": 0, "2": 4}


@pytest.mark.parametrize(
    ("method", "answer", "says"),
    [
        ("triangle", "4", "answer 1 or 2 or 3"),
        ("hidden-reference", '{"1": "5.0"}', "grades are wanted for 1, 2"),
        ("hidden-reference", '{"1": "4.0", "2": "4.5"}', "one of 1 and 2 is the reference"),
        ("hidden-reference", '{"1": "5.0", "2": "5.5"}', "in steps of 0.1"),
        ("hidden-reference", '{"1": "5.0", "2": "4.55"}', "in steps of 0.1"),
        ("hidden-reference", "five", "holds no grades"),
        ("same-different", "1", "answer S or D"),
        ("preference", "T", "answer 1 or 2"),
    ],
)
def test_an_answer_that_does_not_fit_is_refused(book: Casebook, method: str, answer: str, says: str) -> None:
    sealed(book, method=method, trials=4)
    with session.begin(book, "evening", "Ada", "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
        with pytest.raises(ListenError, match=re.escape(says)):
            running.answer(offered, answer, 2, 1000)
        assert running.answered == 0


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        (Wish("round-robin", PAIR, listeners=("Ada",)), "compares 3 to 8 setups"),
        (Wish("triangle", SETUPS, listeners=("Ada",)), "compares two setups"),
        (Wish("round-robin", SETUPS, listeners=("Ada",), trials=10), "a multiple of 3 trials"),
        (Wish("triangle", PAIR, listeners=("Ada",), effect="0.3"), "above 0.33 and up to 1"),
        (Wish("hidden-reference", PAIR, listeners=("Ada",), effect="6"), "in standard deviations"),
        (Wish("hidden-reference", PAIR, listeners=("Ada",), stopping="sprt"), "runs to its end"),
        (Wish("abx", PAIR, listeners=("Ada", "Bo"), stopping="sprt"), "has one listener"),
        (Wish("preference", PAIR, listeners=("Ada",), stopping="sprt", ties="drop"), "offers no ties"),
        (Wish("abx", PAIR, listeners=("Ada",), stopping="sprt", beta="0.9"), "--beta 0.9 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), ties="drop"), "ties can be offered in a preference only"),
        (Wish("abx", PAIR, listeners=("Ada",), one_sided=True), "has its own side"),
        (Wish("same-different", PAIR, listeners=("Ada",), controls=2), "has its controls built in"),
        (Wish("abx", PAIR, listeners=("Ada",), controls=17), "--controls 17 is out of range"),
        (Wish("preference", PAIR, listeners=("Ada",), rule_out="0.3"), "methods with right answers"),
        (Wish("abx", PAIR, listeners=("Ada",), rule_out="1.5"), "--rule-out 1.5 is out of range"),
    ],
)
def test_a_plan_that_does_not_fit_is_refused_and_leaves_no_draft(book: Casebook, wish: Wish, says: str) -> None:
    with pytest.raises(PlanError, match=re.escape(says)):
        drafting.draft(book, wish)
    assert book.query("SELECT * FROM drafts") == []


def test_anchors_are_sealed_with_the_plan_and_are_the_reference_low_passed(book: Casebook) -> None:
    plan = sealed(book, method="multi-stimulus")
    assert plan.trials == 4  # two passages, each twice
    for passage in plan.passages:
        reference = reading.read(prepared_audio.file_of(book, passage.audio[plan.setups[0].id], "")).samples
        for anchor in plan.anchors:
            made = reading.read(prepared_audio.file_of(book, passage.audio[anchor.id], "")).samples
            assert made.shape == reference.shape
            spectra = [np.abs(np.fft.rfft(samples[:, 0])) for samples in (reference, made)]
            hz = np.fft.rfftfreq(len(reference), 1 / passage.rate_hz)
            kept, gone = hz < anchor.low_pass_hz * 0.95, hz > anchor.low_pass_hz * 9 / 7
            assert np.sum(spectra[1][kept] ** 2) == pytest.approx(np.sum(spectra[0][kept] ** 2), rel=0.03)
            assert np.sum(spectra[1][gone] ** 2) < 1e-4 * np.sum(spectra[0][gone] ** 2)


class TestSequential:
    def test_it_ends_at_its_boundary_and_not_before(self, book: Casebook, tmp_path: Path) -> None:
        plan = sealed(book, method="abx", stopping="sprt", trials=40)
        region = plan.boundaries
        assert region is not None
        answer_all(book, 1.0)
        found = verdict_of(book)
        first = next(n for n in range(1, 41) if region.decision(n, n) == "heard")
        assert (found.verdict, found.trials, found.correct) == ("heard", first, first)
        assert found.p_value == pytest.approx(0.5**first)  # nothing is more extreme than all right, so far
        assert "heard" in checked_alone(book, tmp_path)
        with pytest.raises(ListenError, match="is over"):
            session.begin(book, "evening", "Ada", "none: test")

    def test_it_gives_up_when_it_is_wrong_often_enough(self, book: Casebook, tmp_path: Path) -> None:
        sealed(book, method="triangle", stopping="sprt", trials=40)
        with session.begin(book, "evening", "Ada", "none: test") as running:
            while (offered := running.next_trial()) is not None:
                wrong = next(a for a in "123" if not score("triangle", offered.key, a))
                running.answer(offered, wrong, 2, 3000)
        found = verdict_of(book)
        assert found.verdict == "not shown"
        assert found.trials < 10
        assert found.p_value is not None
        assert found.p_value > 0.5
        assert "not shown" in checked_alone(book, tmp_path)

    def test_nothing_of_its_score_is_told_while_it_runs(self, book: Casebook) -> None:
        sealed(book, method="abx", stopping="e-process", trials=40)
        answer_all(book, 1.0, most=3)
        found = verdict_of(book)
        assert found.verdict is None
        assert (found.correct, found.p_value, found.analysis, found.beside) == (None, None, {}, {})
        assert "under way" in sentences.sentences(found)[0]

    def test_closing_it_before_its_end_shows_nothing(self, book: Casebook) -> None:
        sealed(book, method="abx", stopping="e-process", trials=40)
        answer_all(book, 1.0, most=4)
        drafting.close(book, "evening", "the amplifier went home")
        found = verdict_of(book)
        assert (found.verdict, found.state, found.p_value) == ("not shown", "closed early", 1.0)

    def test_a_fixed_plan_cannot_be_extended(self, book: Casebook) -> None:
        sealed(book, method="abx", trials=4)
        answer_all(book, 0.0)
        with pytest.raises(ListenError, match="is over"):
            session.begin(book, "evening", "Ada", "none: test")


class TestTogether:
    def test_plans_on_the_same_question_are_named_with_each_other(self, book: Casebook) -> None:
        sealed(book, "first", method="abx", trials=4)
        answer_all(book, 0.0, plan="first")
        again = sealed(book, "again", method="abx", trials=5, setups=PAIR[::-1])
        assert [one["name"] for one in again.document["earlier"]] == ["first"]
        answer_all(book, 1.0, plan="again")
        for name, other in (("first", "again"), ("again", "first")):
            assert any(f"also asked in {other}" in line for line in sentences.sentences(verdict_of(book, name)))

    def test_primary_questions_share_one_error_rate(self, book: Casebook) -> None:
        sealed(book, "one", method="abx", trials=5)
        sealed(book, "two", method="triangle", trials=3, alpha="0.05")
        sealed(book, "aside", method="duo-trio", trials=5, exploratory=True)
        for name in ("one", "two", "aside"):
            answer_all(book, 1.0, plan=name)
        one, two, aside = (verdict_of(book, name) for name in ("one", "two", "aside"))
        # Holm by hand: p = 1/32 and 1/27; the smaller is doubled, the larger not below it
        assert one.together["p_holm"] == pytest.approx(2 / 32)
        assert two.together["p_holm"] == pytest.approx(2 / 32)
        assert one.verdict == "heard"
        assert one.together["holds"] is False
        assert "on its own, but not among the 2 primary questions" in sentences.sentences(one)[0]
        assert "p_holm" not in aside.together
        assert any("Exploratory" in line for line in sentences.sentences(aside))

    def test_a_panel_says_how_many_hear_it(self, book: Casebook) -> None:
        sealed(book, method="abx", trials=16, listeners=("Ada", "Bo", "Cy"))
        for name, hears in (("Ada", 1.0), ("Bo", 1.0), ("Cy", 0.0)):
            answer_all(book, hears, name)
        told = verdict_of(book).beside["panel"]
        assert told["hear_it"]["at_least"] == 2
        assert told["hear_it"]["at_most_half_the_time"] in (2, 3)
        assert [own["correct"] for own in told["listeners"]][:2] == [16, 16]


class TestGrades:
    def test_differences_are_the_objects_grade_less_the_references(self, book: Casebook) -> None:
        sealed(book, method="hidden-reference", trials=4)
        given = ("4.0", "3.5", "5.0", "4.6")
        with session.begin(book, "evening", "Ada", "none: test") as running:
            for grade in given:
                offered = running.next_trial()
                assert offered is not None
                places = {place: label for label, place in offered.key.items() if label != "R"}
                from decimal import Decimal

                running.answer(offered, answer_of({places[0]: Decimal("5.0"), places[1]: Decimal(grade)}), 3, 9000)
        found = verdict_of(book)
        assert found.analysis["differences"] == pytest.approx([-1.0, -1.5, 0.0, -0.4])
        assert found.p_value == pytest.approx(1 / 8)  # three differences that count, all below 0
        assert found.verdict == "not shown"

    def test_trials_left_out_count_as_no_difference(self, book: Casebook) -> None:
        sealed(book, method="hidden-reference", trials=8)
        answer_all(book, 1.0, most=3)
        drafting.close(book, "evening", "too late")
        found = verdict_of(book)
        assert found.p_value == pytest.approx(1 / 8)
        assert any("count as a difference of 0" in line for line in sentences.sentences(found))

    def test_a_multi_stimulus_plan_closed_early_is_void(self, book: Casebook) -> None:
        sealed(book, method="multi-stimulus", trials=4)
        answer_all(book, 1.0, most=2)
        drafting.close(book, "evening", "too late")
        assert verdict_of(book).verdict == "void"

    def test_who_cannot_find_the_reference_is_left_out_as_planned(self, book: Casebook) -> None:
        sealed(book, method="multi-stimulus", trials=4, listeners=("Ada", "Bo"))
        answer_all(book, 1.0, "Ada")
        with session.begin(book, "evening", "Bo", "none: test") as running:
            while (offered := running.next_trial()) is not None:
                from decimal import Decimal

                grades = {label: Decimal(50) for label in running.plan.method.graded}
                running.answer(offered, answer_of(grades), 1, 9000)
        found = verdict_of(book)
        assert found.analysis["kept"] == ["Ada"]
        assert "below 90 in 4 of 4" in found.analysis["excluded"]["Bo"]
        assert len(found.analysis["grades"]["sallow"]) == 4

    def test_grades_come_back_as_they_were_given(self) -> None:
        from decimal import Decimal

        grades = {"1": Decimal("4.3"), "2": Decimal("5.0")}
        assert grades_of(answer_of(grades)) == grades


def test_a_round_robin_counts_each_pair_and_order(book: Casebook) -> None:
    sealed(book, method="round-robin", trials=12)
    answer_all(book, 1.0)
    found = verdict_of(book)
    assert found.analysis["wins"]["sallow"] == {"bracken": 4, "sallow-late": 4}
    assert found.analysis["totals"] == {"sallow": 8, "bracken": 4, "sallow-late": 0}
    assert found.preferred == "sallow"
    assert found.analysis["consistency"]["Ada"]["circles"] == 0


def test_ties_are_left_out_or_split_as_planned(book: Casebook, tmp_path: Path) -> None:
    for name, ties, wanted in (("dropped", "drop", (5, 5)), ("halved", "split", (6, 8))):
        sealed(book, name, method="preference", trials=8, ties=ties)
        with session.begin(book, name, "Ada", "none: test") as running:
            for number in range(8):
                offered = running.next_trial()
                assert offered is not None
                mine = "1" if offered.key["1"] == 0 else "2"
                running.answer(offered, "T" if number < 3 else mine, 2, 3000)
        found = verdict_of(book, name)
        assert (found.correct, found.trials) == wanted
        # 5 of 5, or 5 and half of two ties (the odd one goes to the other side): 6 of 8
        assert found.p_value == pytest.approx(binomtest(*wanted, 0.5).pvalue)
        assert f"p = {found.p_value:.6f}" in checked_alone(book, tmp_path, name)


def test_a_foreseen_side_is_tested_one_sided(book: Casebook, tmp_path: Path) -> None:
    sealed(book, method="preference", trials=6, one_sided=True)
    answer_all(book, 1.0)
    found = verdict_of(book)
    assert found.p_value == pytest.approx(0.5**6)
    assert "p = 0.015625" in checked_alone(book, tmp_path)


def test_what_a_plan_means_to_rule_out_is_said(book: Casebook) -> None:
    sealed(book, method="abx", trials=40, rule_out="0.5")
    with session.begin(book, "evening", "Ada", "none: test") as running:
        for number in range(40):
            offered = running.next_trial()
            assert offered is not None
            right = "A" if offered.key["X"] == 0 else "B"
            running.answer(offered, right if number < 21 else ("B" if right == "A" else "A"), 2, 3000)
    told = verdict_of(book)
    # 21 of 40: P(X <= 21 | 40, .75) = 0.0016 by scipy, so a share of 50 % is ruled out
    assert binomtest(21, 40, 0.75, alternative="less").pvalue < 0.05
    assert any("As planned, it rules out" in line for line in sentences.sentences(told))
    claims = [line for line in sentences.sentences(told) if "are equal" in line]
    assert claims == [line for line in claims if line.startswith("That does not show that they are equal")]
