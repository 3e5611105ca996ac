"""`tally` judges answers kept elsewhere as a plan judges its own."""

from __future__ import annotations

import json
from itertools import combinations, product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from sessions.commands.tally import tally
from sessions.errors import CatalogueError
from sessions.plans.methods.graded import answer_of
from sessions.plans.methods.method import REFERENCE, Key
from sessions.results.outcome import DifferenceGrades, PairedComparison, QualityGrades
from stats.errors import StatsError
from tests.calibration.plans import judged, plan
from tests.command_line import earwitness
from tests.independent_holm import adjusted

NAMES = ("reference", "one", "two", "anchor 3.5 kHz", "anchor 7 kHz")


def tallied(method: str, *arguments: object) -> dict[str, Any]:
    done = CliRunner().invoke(tally, [method, "--json", *map(str, arguments)], catch_exceptions=False)
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def table(path: Path, header: str, rows: list[str]) -> Path:
    path.write_text("\n".join([header, *rows]))
    return path


def six_trials() -> list[dict[str, int]]:
    """Grades by name: the reference above one above two in every trial, anchors far below, nobody to be left out."""
    rng = np.random.default_rng(3)
    return [
        dict(zip(NAMES, (100, int(rng.integers(80, 90)), int(rng.integers(60, 80)), 20, 40), strict=True))
        for _ in range(6)
    ]


def graded_table(path: Path, trials: list[dict[str, int]]) -> Path:
    rows = [f"Ada,{n},{name},{grade}" for n, grades in enumerate(trials) for name, grade in grades.items()]
    return table(path, "listener,item,stimulus,grade", rows)


def exchanged(pairs: list[tuple[int, int]]) -> float:
    """The share of all exchanges in a trial whose sums lie at least as far apart."""
    apart = []
    for turns in product((1, -1), repeat=len(pairs)):
        left, right = zip(*(pair[::turn] for pair, turn in zip(pairs, turns, strict=True)), strict=True)
        apart.append(abs(sum(left) - sum(right)))
    return sum(one >= apart[0] for one in apart) / len(apart)


def test_the_same_grades_of_many_stimuli_give_the_same_p_as_a_plan(tmp_path: Path) -> None:
    trials = six_trials()
    key: Key = {REFERENCE: 0, "1": 0, "2": 1, "3": 2, "4": 3, "5": 4}
    given = [(key, answer_of({str(n): grades[name] for n, name in enumerate(NAMES, 1)})) for grades in trials]
    planned = judged(plan("multi-stimulus", 6), given)
    assert isinstance(planned, QualityGrades)
    found = tallied("multi-stimulus", "--file", graded_table(tmp_path / "grades.csv", trials))
    assert [(pair["p_value"], pair["p_holm"]) for pair in found["pairs"]] == [
        (pair.p_value, pair.p_holm) for pair in planned.pairs
    ]
    assert min(pair["p_holm"] for pair in found["pairs"]) == planned.p_value
    by_hand = [exchanged([(grades[a], grades[b]) for grades in trials]) for a, b in combinations(NAMES[:3], 2)]
    assert [pair["p_value"] for pair in found["pairs"]] == by_hand
    assert [pair["p_holm"] for pair in found["pairs"]] == pytest.approx(adjusted(by_hand))


def test_anchors_are_no_hypotheses(tmp_path: Path) -> None:
    path = graded_table(tmp_path / "grades.csv", six_trials())
    found = tallied("multi-stimulus", "--file", path)
    assert found["anchors"] == ["anchor 3.5 kHz", "anchor 7 kHz"]
    assert [pair["stimuli"] for pair in found["pairs"]] == [["reference", "one"], ["reference", "two"], ["one", "two"]]
    assert set(found["summaries"]) == set(NAMES)


def test_a_further_anchor_is_named_by_its_option(tmp_path: Path) -> None:
    path = graded_table(tmp_path / "grades.csv", six_trials())
    found = tallied("multi-stimulus", "--file", path, "--anchor", "two", "--anchor", "anchor 3.5 kHz")
    assert [pair["stimuli"] for pair in found["pairs"]] == [["reference", "one"]]
    assert [pair["p_holm"] for pair in found["pairs"]] == [pair["p_value"] for pair in found["pairs"]]
    assert found["anchors"] == ["anchor 3.5 kHz", "anchor 7 kHz", "two"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--anchor", "three"], "no stimulus 'three' in .*; name it with --anchor"),
        (["--mid-anchor", "reference"], "'reference' is named as the reference and as an anchor"),
    ],
)
def test_an_anchor_that_is_none_is_refused(tmp_path: Path, arguments: list[str], says: str) -> None:
    path = graded_table(tmp_path / "grades.csv", six_trials())
    with pytest.raises(StatsError, match=says):
        tallied("multi-stimulus", "--file", path, *arguments)


def test_the_same_difference_grades_give_the_same_p_as_a_plan(tmp_path: Path) -> None:
    grades = ["4.0", "4.4", "4.9", "3.1", "5.0", "4.2"]
    keys: list[Key] = [{REFERENCE: 0, "1": 0, "2": 1}] * 5 + [{REFERENCE: 0, "1": 1, "2": 0}]
    given = [(key, answer_of({"1": "5.0", "2": grade})) for key, grade in zip(keys, grades, strict=True)]  # type: ignore[dict-item]
    planned = judged(plan("hidden-reference", 6), given)
    assert isinstance(planned, DifferenceGrades)
    rows = [f"Ada,5.0,{grade}" for grade in grades[:5]] + [f"Ada,{grades[5]},5.0"]
    found = tallied("hidden-reference", "--file", table(tmp_path / "t.csv", "listener,reference,object", rows))
    assert found["p_value"] == planned.p_value
    assert found["all"]["mean"] == planned.every.mean


def test_the_same_choices_give_the_same_abilities_as_a_plan(tmp_path: Path) -> None:
    order = [(0, 1), (1, 2), (0, 2), (1, 0), (2, 1), (2, 0)] * 2
    given: list[tuple[Key, str]] = [({"1": i, "2": j}, "1" if n % 5 else "2") for n, (i, j) in enumerate(order)]
    planned = judged(plan("round-robin", 12), given)
    assert isinstance(planned, PairedComparison)
    assert planned.abilities is not None
    rows = [f"Ada,s{key['1']},s{key['2']},s{key[said]}" for key, said in given]
    found = tallied("round-robin", "--file", table(tmp_path / "t.csv", "listener,first,second,chosen", rows))
    assert found["bradley_terry"]["shares"] == pytest.approx(planned.abilities.shares)
    assert found["p_value"] == pytest.approx(planned.p_value, abs=5 * 0.5 / 20_000**0.5)  # by 20,000 draws each


@pytest.mark.parametrize("policy", ["drop", "split"])
@pytest.mark.parametrize("one_sided", [False, True])
def test_the_same_choices_with_ties_give_the_same_p_as_a_plan(policy: str, one_sided: bool) -> None:
    made = plan("preference", 12, ties=policy, one_sided=one_sided)
    key: Key = {"1": 0, "2": 1}
    planned = judged(made, [(key, "1")] * 7 + [(key, "2")] * 2 + [(key, "T")] * 3)
    side = ["--one-sided"] if one_sided else []
    found = tallied("preference", "--for-first", 7, "--trials", 12, "--ties", 3, "--ties-policy", policy, *side)
    assert found["p_value"] == planned.p_value


def test_ties_alone_are_nothing_to_test() -> None:
    with pytest.raises(StatsError, match="every answer was a tie; there is nothing to test"):
        tallied("preference", "--for-first", 0, "--trials", 4, "--ties", 4)


@pytest.mark.parametrize(
    ("method", "more"),
    [
        ("abx", ["--correct", "9"]),
        ("abx", ["--trials", "16"]),
        ("abx", ["--one-sided"]),
        ("preference", ["--ties", "0"]),
        ("preference", ["--ties-policy", "split"]),
        ("preference", ["--for-first", "3"]),
        ("same-different", ["--hits", "3"]),
        ("same-different", ["--different", "3"]),
        ("same-different", ["--false-alarms", "3"]),
        ("same-different", ["--same", "3"]),
        ("multi-stimulus", ["--trials", "16"]),
    ],
)
def test_counts_beside_a_table_are_refused_in_one_line(tmp_path: Path, method: str, more: list[str]) -> None:
    path = table(tmp_path / "panel.csv", "listener,correct,trials", ["Ada,9,16"])
    done = earwitness(tmp_path, "tally", method, "--file", str(path), *more)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"earwitness: {more[0]} does not go with --file, whose table says it; leave one of them out\n"


def test_the_order_of_lines_changes_nothing(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    rows = [
        f"L{n % 2},{n},{name},{grade}"
        for n in range(14)
        for name, grade in zip(NAMES, (100, int(rng.integers(80, 99)), int(rng.integers(70, 99)), 20, 40), strict=True)
    ]
    header = "listener,item,stimulus,grade"
    found = tallied("multi-stimulus", "--file", table(tmp_path / "a.csv", header, rows))
    assert tallied("multi-stimulus", "--file", table(tmp_path / "b.csv", header, rows[::-1])) == found
    assert {pair["p_error"] for pair in found["pairs"]} == {None}  # of fourteen trials, too, p is exact
    assert found["verdict"] in ("heard", "not shown")
    assert found["p_value"] == min(pair["p_holm"] for pair in found["pairs"])


def test_where_everybody_is_left_out_a_tally_is_void_and_says_why(tmp_path: Path) -> None:
    path = table(tmp_path / "a.csv", "listener,item,stimulus,grade", _each_alone())
    found = tallied("multi-stimulus", "--file", path)
    assert found["verdict"] == "void"
    assert "post-screening left no listener" in found["void_reasons"][0]
    assert (found["p_value"], found["pairs"]) == (None, [])
    said = CliRunner().invoke(tally, ["multi-stimulus", "--file", str(path)], catch_exceptions=False).output
    assert "16 trials: void." in said
    assert "Void because: post-screening left no listener" in said


def _each_alone() -> list[str]:
    """Four listeners; each grades another item's mid anchor above 90, so that no item counts against nobody."""
    return [
        f"L{who},{item},{name},{95 if name == NAMES[-1] and who == item else 50}"
        for who in range(4)
        for item in range(4)
        for name in NAMES
    ]


@pytest.mark.parametrize(
    ("method", "header", "row", "says"),
    [
        ("hidden-reference", "listener,reference,object", "Ada,5.0,55", "line 2: '55' under 'object' is off the scale"),
        ("hidden-reference", "listener,reference,object", "Ada,-3,4.0", "from 1.0 to 5.0"),
        ("hidden-reference", "listener,reference,object", "Ada,1e7,4.0", "off the scale"),
        ("hidden-reference", "listener,reference,object", "Ada,nan,4.0", "'nan' under 'reference' is no number"),
        ("multi-stimulus", "listener,item,stimulus,grade", "Ada,1,reference,950", "from 0 to 100"),
    ],
)
def test_a_grade_off_the_scale_is_refused(tmp_path: Path, method: str, header: str, row: str, says: str) -> None:
    with pytest.raises(StatsError, match=says):
        tallied(method, "--file", table(tmp_path / "t.csv", header, [row]))


def test_a_table_too_long_to_be_tested_is_refused_in_a_line(tmp_path: Path) -> None:
    rows = ["Ada,5.0,4.5"] * 100_000
    with pytest.raises(CatalogueError, match="has 100000 rows; at most 10000 are read at a time"):
        tallied("hidden-reference", "--file", table(tmp_path / "t.csv", "listener,reference,object", rows))


@pytest.mark.parametrize("share_of_ties", [0.1, 0.3, 0.6])
def test_ties_split_never_help_who_has_no_preference(share_of_ties: float) -> None:
    """Exactly, over all counts of nine trials: the odd tie goes where it helps least, so alpha holds."""
    from math import factorial

    from stats import binomial, preference

    for side in ("greater", "two-sided"):
        reached = 0.0
        for first in range(10):
            for ties in range(10 - first):
                second = 9 - first - ties
                chance = factorial(9) / factorial(first) / factorial(second) / factorial(ties)
                chance *= ((1 - share_of_ties) / 2) ** (first + second) * share_of_ties**ties
                counts = preference.with_ties(first, second, ties, "split", side)  # type: ignore[arg-type]
                p = binomial.binomial_test(counts.for_first, counts.trials, 0.5, side).p_value  # type: ignore[arg-type]
                reached += chance * (p <= 0.05)
                if side == "greater" and ties % 2:  # no better than with that tie for the second
                    assert counts.for_first == first + ties // 2
        assert reached <= 0.05


def test_a_ballot_on_paper_is_judged_as_a_plan_judges_its_ticks(tmp_path: Path) -> None:
    """By hand: 9 to 1, p = 2·(1 + 10)/2¹⁰; 4 to 4 and 0 to 0, p = 1; Holm of three."""
    path = table(
        tmp_path / "ballot.csv", "word,first_only,second_only", ["bright,9,1", "boomy,4,4", "thin,0,0", "wide,0,12"]
    )
    found = tallied("words", "--file", path)
    words = {one["word"]: one for one in found["words"]}
    assert words["bright"]["p_value"] == pytest.approx(22 / 1024)
    assert words["wide"]["p_value"] == pytest.approx(2 / 4096)
    assert [words[word]["p_value"] for word in ("boomy", "thin")] == [1, 1]
    holm = adjusted([one["p_value"] for one in found["words"]])
    assert [one["p_holm"] for one in found["words"]] == pytest.approx(holm)
    assert (found["verdict"], found["p_value"]) == ("heard", pytest.approx(4 * 2 / 4096))
    assert [word for word, one in words.items() if one["heard"]] == ["wide"]  # bright: 3 · 22/1024 is above 0.05
    said = CliRunner().invoke(tally, ["words", "--file", str(path)], catch_exceptions=False).stdout
    assert "wide: of the first alone 0, of the second alone 12; exact test p = 0.0004883, Holm 0.001953, more" in said
    assert said.count("more often of") == 1
    assert list(words) == ["bright", "boomy", "thin", "wide"]  # as the table has them
    assert found["notes"] == []
    twice = table(tmp_path / "twice.csv", "word,first_only,second_only", ["bright,9,1", "Bright,4,4"])
    with pytest.raises(StatsError, match="stands in it twice"):
        tallied("words", "--file", twice)
    with pytest.raises(StatsError, match="words takes --file TABLE with the columns word, first_only, second_only"):
        tallied("words")


def test_words_that_a_plan_refuses_are_counted_and_warned_of(tmp_path: Path) -> None:
    rows = ["warm,6,0", "thumpy,6,0", "boomy,7,0", "lovely,9,0"]
    path = table(tmp_path / "ballot.csv", "word,first_only,second_only", rows)
    found = tallied("words", "--file", path)
    assert [one["word"] for one in found["words"]] == ["warm", "thumpy", "boomy", "lovely"]
    said = CliRunner().invoke(tally, ["words", "--file", str(path)], catch_exceptions=False).stdout
    assert said.endswith("\n".join(found["notes"]) + "\n")
    liked, same = found["notes"]
    assert "'lovely' says whether it was liked" in liked
    assert "'thumpy' and 'boomy' are the same word (boomy)" in same


@pytest.mark.parametrize(("row", "column"), [("warm,-1,0", "first_only"), ("warm,1,x", "second_only")])
def test_a_number_that_is_no_count_is_named_with_its_line_and_column(tmp_path: Path, row: str, column: str) -> None:
    path = table(tmp_path / "ballot.csv", "word,first_only,second_only", ["wide,3,1", row])
    with pytest.raises(StatsError, match=rf"ballot.csv, line 3: .* under '{column}'"):
        tallied("words", "--file", path)
