"""Words of several blind ballots together: counts, the exact test, agreement; by hand and by statsmodels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import pytest
from statsmodels.stats.contingency_tables import mcnemar

from sessions.plans.plan import Plan
from sessions.results.ballots_over import why_left_out
from sessions.results.pooled_words import JudgedBallot, PooledWord, agreed, pooled
from sessions.results.presented_words import BallotTrials, Presented, of_record, week_of
from sessions.results.verdict import judge
from sessions.words.lexicon import shipped
from tests.records import RIGHT, WRONG, plan, record

SETUPS = ("setup-0", "setup-1")


def presented(
    first: str, second: str, *, name: str = "evening", week: str = "2026-W48", listener: str = "Ada", track: str = "t"
) -> Presented:
    """A trial in which the first setup got the words with these letters of "bg" (bright, grainy), and the second."""
    marks = {
        setup: {"bright": float("b" in own), "grainy": float("g" in own)}
        for setup, own in zip(SETUPS, (first, second), strict=True)
    }
    return Presented(name, week, week, listener, track, marks)


def ballot(made: Plan, trials: Sequence[Presented], heard: Sequence[str] = ()) -> JudgedBallot:
    same = (({"bright": 1.0, "grainy": 0.0}, {"bright": 0.0, "grainy": 0.0}),) * 2
    return JudgedBallot(BallotTrials(made, tuple(trials), same), frozenset(heard))


def test_two_plans_of_the_same_setups_are_counted_together_whichever_was_named_first() -> None:
    """By hand: bright 7 to 1, p = 2·(1 + 8)/2⁸; grainy 1 to 2, p = 1; Holm of two: 2·18/256 and 1."""
    one, turned = plan("words", 12), plan("words", 12, name="again")
    document = dict(turned.document)
    document["setups"] = list(reversed(document["setups"]))
    before = [presented("b", "")] * 4 + [presented("bg", "bg"), presented("", "g")]
    after = [presented("b", "g", name="again", week="2026-W50")] * 1 + [presented("b", "", name="again")] * 2
    after += [presented("g", "b", name="again", week="2026-W50")]
    (found,) = pooled([ballot(one, before, ["bright"]), ballot(Plan(document), after)])
    assert (found.setups, found.plans, found.trials) == (("sallow", "bracken"), ("evening", "again"), 10)
    bright, grainy = found.words
    assert (bright.counts.first_only, bright.counts.second_only, bright.counts.both) == (7, 1, 1)
    assert (grainy.counts.first_only, grainy.counts.second_only, grainy.counts.both) == (1, 2, 1)
    assert (bright.p_value, grainy.p_value) == (pytest.approx(18 / 256), 1)
    assert (bright.p_holm, grainy.p_holm) == (pytest.approx(36 / 256), 1)
    expected = mcnemar([[1, 7], [1, 1]], exact=True).pvalue
    assert bright.p_value == pytest.approx(expected)
    by_place = {(own.plan, own.week): (own.counts.first_only, own.heard) for own in bright.plans}
    assert by_place == {
        ("evening", "2026-W48"): (4, True),
        ("again", "2026-W50"): (1, False),
        ("again", "2026-W48"): (2, False),
    }
    assert bright.flips is not None
    assert (bright.flips.flips, bright.flips.pairs) == (4, 4)


def test_each_listener_with_each_track_has_counts_of_its_own() -> None:
    trials = [
        presented(*sides, listener=listener, track=track)
        for listener, track, sides in [
            ("Ada", "s", ("b", "")), ("Ada", "s", ("b", "")), ("Ada", "t", ("", "b")), ("Bo", "s", ("b", "b")),
        ]
    ]  # fmt: skip
    (found,) = pooled([ballot(plan("words", 4), trials)])
    blocks = {(one.listener, one.track): one.counts for one in found.words[0].blocks}
    assert {place: (own.first_only, own.second_only, own.both) for place, own in blocks.items()} == {
        ("Ada", "s"): (2, 0, 0),
        ("Ada", "t"): (0, 1, 0),
        ("Bo", "s"): (0, 0, 1),
    }


def test_the_pooled_p_keeps_alpha_whatever_listeners_and_tracks_do_by_themselves() -> None:
    """Exact, over all keys: Ada says bright of whatever comes first on s, Bo of what comes second on t."""
    habits = [("Ada", "s", ("b", ""))] * 4 + [("Bo", "t", ("", "b"))] * 3 + [("Bo", "s", ("b", "b"))]
    reached = 0
    for keys in product((False, True), repeat=len(habits)):
        trials = [
            presented(*(sides[::-1] if turned else sides), listener=listener, track=track)
            for turned, (listener, track, sides) in zip(keys, habits, strict=True)
        ]
        (found,) = pooled([ballot(plan("words", 10), trials)])
        reached += found.words[0].p_value <= 0.05
    assert 0 < reached / 2 ** len(habits) <= 0.05


def test_other_setups_are_another_pair() -> None:
    other = plan("words", 4, name="others")
    document = dict(other.document)
    document["setups"] = [{"setup": "setup-0", "name": "sallow"}, {"setup": "setup-9", "name": "fern"}]
    trial = presented("b", "", name="evening")
    elsewhere = replace(
        trial, plan="others", marks={"setup-0": trial.marks["setup-0"], "setup-9": trial.marks["setup-1"]}
    )
    found = pooled([ballot(plan("words", 4), [trial]), ballot(Plan(document), [elsewhere])])
    assert [one.setups for one in found] == [("sallow", "bracken"), ("sallow", "fern")]


def test_listeners_and_weeks_agree_as_worked_out_by_hand() -> None:
    """Two weeks of Ada, units: each setup the first, the second time. Ticks of bright, first week beside second:

    setup 0: 1 1, 1 0; setup 1: 0 0, 0 0; so 3 of 4 alike.
    Krippendorff, nominal: 3 ticks, 5 none; Dₒ = 2/8, Dₑ = 2·3·5/(8·7);
    α = 1 − (2/8)/(30/56).
    """
    trials = [presented("b", ""), presented("b", "")]
    trials += [presented("b", "", week="2026-W49"), presented("", "", week="2026-W49")]
    found = agreed("bright", trials, lambda trial: trial.week, lambda trial: trial.listener)
    assert found is not None
    assert (found.units, found.raw) == (4, 0.75)
    assert found.alpha == pytest.approx(1 - (2 / 8) / (30 / 56))
    (together,) = pooled([ballot(plan("words", 4), trials)])
    bright: PooledWord = together.words[0]
    assert bright.weeks == found
    assert bright.listeners is None  # nobody else heard any
    assert together.listeners == ("Ada",)


def test_two_weeks_of_different_listeners_are_no_agreement_over_weeks() -> None:
    trials = [presented("b", ""), presented("b", "", week="2026-W49", listener="Bo")]
    (found,) = pooled([ballot(plan("words", 2), trials)])
    assert found.words[0].weeks is None
    assert found.words[0].listeners is not None
    assert found.words[0].listeners.raw == 1


def test_a_record_gives_each_setups_ticks_by_headword_and_sets_controls_apart() -> None:
    made = plan("words", 6, controls=2, stated={"words": ["brilliant", "boomy", "thin", "wide"]})
    found = of_record(record(made, [[RIGHT, WRONG] * 3]), shipped())
    assert (len(found.counted), len(found.same)) == (6, 2)
    assert [trial.marks["setup-0"]["bright"] for trial in found.counted] == [1, 0] * 3
    assert [trial.marks["setup-1"]["bright"] for trial in found.counted] == [0, 1] * 3
    assert {trial.week for trial in found.counted} == {"2026-W01"}
    assert {(trial.listener, trial.track) for trial in found.counted} == {("Ada", "t")}


def test_weeks_are_those_of_the_calendars_standard() -> None:
    """ISO 8601: the week with the year's first Thursday is its first; examples by a calendar."""
    assert [week_of(day) for day in ("2024-12-30", "2026-12-31", "2027-01-03", "2027-01-04")] == [
        "2025-W01", "2026-W53", "2026-W53", "2027-W01",
    ]  # fmt: skip


def test_only_ballots_taken_to_their_end_that_hold_are_taken_together() -> None:
    made = plan("words", 12)
    assert why_left_out(judge(record(made, [[RIGHT] * 12]))) == ""
    assert why_left_out(judge(record(made, [[RIGHT, WRONG] * 6]))) == ""
    assert "which is not over" in why_left_out(judge(record(made, [[RIGHT] * 12], over=False)))
    assert "which is not over" in why_left_out(judge(record(made, [[]], over=False)))
    assert "closed early" in why_left_out(judge(record(made, [[RIGHT] * 11])))
    unmatched = {"match": {"sheet": "none", "by": "none", "residual_lu": "none", "tolerance_lu": "0.1"}}
    assert "which is void" in why_left_out(judge(record(plan("words", 12, stated=unmatched), [[RIGHT] * 12])))
