"""A known difference stands beside the verdict and never in it: it says what could have been shown."""

from __future__ import annotations

import copy
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from numpy.random import PCG64, Generator
from scipy.stats import binomtest

from sessions.casebook.store import Casebook
from sessions.listening import session, simulated_listener
from sessions.plans import seals
from sessions.plans.methods.table import METHODS
from sessions.report import contents, page
from sessions.results import sentences
from sessions.results.exported_record import exported
from sessions.results.known_differences import KnownReading
from sessions.results.verdict import Verdict, judge
from tests.answered_plans import checked_alone, run_alone, sealed_plan
from tests.casebooks import judged
from tests.records import RIGHT, WRONG, plan, record

LIFT: dict[str, Any] = {"known": {"trials": 8, "lift_hz": 2000, "lift_db": "1", "octaves": "1", "residual_lu": "0.0"}}
FITTING = [name for name, method in METHODS.items() if method.known_possible]
HALF = [RIGHT, WRONG] * 5
NOT_TESTED = "Whether a difference could have been shown in these sessions was not tested"


def known_of(found: Verdict) -> KnownReading:
    assert found.beside is not None
    assert found.beside.known is not None
    return found.beside.known


def said(found: Verdict) -> str:
    return "\n".join(sentences.sentences(found))


@pytest.mark.parametrize("method", FITTING)
@pytest.mark.parametrize("heard", [0, 3, 7, 8])
def test_what_was_heard_of_it_is_counted_with_its_exact_interval(method: str, heard: int) -> None:
    made = plan(method, 10, stated=LIFT)
    found = judge(record(made, [HALF], known=[RIGHT] * heard + [WRONG] * (8 - heard)))
    own = known_of(found)
    exact = binomtest(heard, 8, own.chance, "greater")
    around = binomtest(heard, 8).proportion_ci(0.95, "exact")
    assert own.chance == pytest.approx(1 / 3 if method in ("triangle", "tetrad") else 0.5)
    assert (own.right, own.answered, own.planned) == (heard, 8, 8)
    assert own.interval is not None
    assert (own.interval.low, own.interval.high) == pytest.approx((around.low, around.high), abs=1e-9)
    assert own.p_value == pytest.approx(exact.pvalue)
    assert own.shown == (exact.pvalue <= 0.05)
    assert found.to_document()["beside"]["known"]["right"] == heard


def test_seven_of_eight_are_told_as_such() -> None:
    found = judge(record(plan("abx", 10, stated=LIFT), [HALF], known=[RIGHT] * 7 + [WRONG]))
    assert (
        "Through the same chain in the same sessions a lift of 1 dB around 2 kHz was answered rightly in 7 of 8 trials "
        "(95 % exact interval 0.47 to 1.00; 0.5 by guessing)."
    ) in sentences.sentences(found)
    assert NOT_TESTED not in said(found)


@pytest.mark.parametrize("method", FITTING)
@pytest.mark.parametrize("how", ["whole", "closed"])
def test_nothing_else_depends_on_what_was_heard_of_it(method: str, how: str) -> None:
    made = plan(method, 10, stated=LIFT, controls=2 if METHODS[method].controls_possible else 0)
    given = [HALF if how == "whole" else HALF[:7]]
    all_heard, none_heard = (judge(record(made, given, known=[answer] * 8)) for answer in (RIGHT, WRONG))
    assert known_of(all_heard).right != known_of(none_heard).right
    assert all_heard.beside is not None
    assert none_heard.beside is not None
    assert replace(all_heard, beside=None) == replace(none_heard, beside=None)
    assert replace(all_heard.beside, known=None) == replace(none_heard.beside, known=None)
    assert all_heard.answered == len(given[0])
    assert all_heard.trials == 10


@pytest.mark.parametrize("rule", ["sprt", "e-process"])
def test_a_sequential_plan_decides_by_the_trials_that_count(rule: str) -> None:
    made = plan("abx", 30, rule=rule, stated=LIFT)
    order = [trial.key for trial in record(made, [HALF * 3]).sessions[0].trials]
    wrong = [(key, "B" if key["X"] == key["A"] else "A") for key in order if made.is_known(key)]
    assert session.decision(made, wrong) is None
    right = [(key, "A" if key["X"] == key["A"] else "B") for key in order]
    counted = [one for one in right if made.counts(one[0])]
    assert made.sequential is not None
    for n in range(len(right)):
        so_far = sum(made.counts(key) for key, _ in right[:n])
        assert session.decision(made, right[:n]) == made.sequential.boundaries.decision(so_far, so_far)
    assert session.decision(made, counted[:15]) == session.decision(made, [*wrong, *counted[:15]]) == "heard"


def test_each_listener_is_told_by_themselves() -> None:
    made = plan("abx", 10, stated=LIFT, listeners=2)
    found = judge(record(made, [HALF, HALF[:4]], known=[RIGHT] * 6 + [WRONG] * 2))
    parts = known_of(found).listeners
    assert (parts[0].listener, parts[0].right, parts[0].answered) == ("Ada", 6, 8)
    assert known_of(found).planned == 16
    assert f"by listener: Ada: 6 of 8, Bo: {parts[1].right} of {parts[1].answered}." in said(found)


def test_who_answered_none_is_not_named() -> None:
    made = plan("abx", 10, stated=LIFT, listeners=2)
    found = judge(record(made, [HALF, None], known=[RIGHT] * 6 + [WRONG] * 2))
    assert (known_of(found).answered, known_of(found).planned) == (8, 16)
    assert "by listener: Ada: 6 of 8." in said(found)
    assert [one["listener"] for one in known_of(found).to_document()["listeners"]] == ["Ada"]


@pytest.mark.parametrize("always", ["S", "D"])
def test_whoever_always_says_the_same_of_two_is_not_said_to_have_heard_it(always: str) -> None:
    """Two that both have the lift are the same: told right by whoever hears nothing at all and says so."""
    made = plan("same-different", 10, stated=LIFT)
    right = record(made, [HALF])
    keys = [trial.key for trial in right.sessions[0].trials if made.is_known(trial.key)]
    same = sum(key["1"] == key["2"] for key in keys)
    assert 0 < same < 8
    given = [RIGHT if (key["1"] == key["2"]) == (always == "S") else WRONG for key in keys]
    found = judge(record(made, [HALF], known=given))
    own, whole = known_of(found), said(found)
    hits, false_alarms = (8 - same, same) if always == "D" else (0, 0)
    assert (own.right, own.answered) == (given.count(RIGHT), 8)
    assert own.p_value == pytest.approx(binomtest(own.right, 8, 0.5, "greater").pvalue)
    assert (
        f'"different" was said in {hits} of the {8 - same} that differed and in {false_alarms} of the {same} that'
        in whole
    )
    assert f"in one of the two or in both, was answered rightly in {own.right} of 8 trials" in whole
    assert "was heard in" not in whole
    assert own.to_document()["said_different"] == {
        "hits": hits, "different_trials": 8 - same, "false_alarms": false_alarms, "same_trials": same,
    }  # fmt: skip


@pytest.mark.parametrize("method", METHODS)
def test_not_shown_without_one_says_that_sensitivity_was_not_tested(method: str) -> None:
    trials = {"round-robin": 12}.get(method, 10)
    found = judge(record(plan(method, trials), [[*HALF, RIGHT, WRONG][:trials]]))
    assert found.verdict == "not shown"
    assert (f"{NOT_TESTED} (no known difference in the plan)." in said(found)) == (method in FITTING)


@pytest.mark.parametrize("method", FITTING)
def test_not_shown_says_little_where_it_was_not_heard_above_chance(method: str) -> None:
    little = '"not shown" says little'
    made = plan(method, 10, stated=LIFT)
    assert little in said(judge(record(made, [HALF], known=[RIGHT, WRONG, WRONG, WRONG] * 2)))
    assert little not in said(judge(record(made, [HALF], known=[RIGHT] * 8)))


@pytest.mark.parametrize("method", FITTING)
@pytest.mark.parametrize("counted", [10, 9, 1])
def test_where_none_was_answered_no_number_is_told(method: str, counted: int) -> None:
    found = judge(record(plan(method, 10, stated=LIFT), [HALF[:counted]], known=[]))
    told = [line for line in sentences.sentences(found) if "known" in line or "lift" in line]
    assert not any(re.search(r"\d", line) for line in told)
    assert known_of(found).to_document() == {"what": "a lift of 1 dB around 2 kHz", "planned": 8, "answered": 0}


@pytest.mark.parametrize("method", FITTING)
def test_where_nothing_that_counts_was_answered_there_is_nothing_beside(method: str) -> None:
    found = judge(record(plan(method, 10, stated=LIFT), [[]]))
    assert (found.verdict, found.beside) == ("undecided", None)


@pytest.mark.parametrize("method", ["abx", "same-different"])
def test_a_listener_who_hears_it_alone_has_a_record_that_checks_by_itself(
    book: Casebook, tmp_path: Path, method: str
) -> None:
    """From the files to the report: what counts is guessed, the known difference is always heard."""
    plan = sealed_plan(book, method=method, trials=8, known=8, lift_hz=2000, lift_db="1")
    rng = Generator(PCG64(2))
    with session.begin(book, "evening", "Ada", "none: test") as running:
        while (offered := running.next_trial()) is not None:
            heard = plan.is_known(offered.key)
            running.answer(offered, simulated_listener.answer_to(plan, offered.key, heard, rng), 2, 4000)
    found = judged(book, "evening")
    assert (found.state, found.answered, known_of(found).right) == ("complete", 8, 8)
    alone = checked_alone(book, tmp_path)
    told = re.search(r"; p = ([\d.e+-]+);", alone)
    assert told is not None
    assert float(told[1]) == pytest.approx(found.p_value, abs=1e-6)
    text = page.render(contents.gather(book, "what was heard"))
    where = ", in one of the two or in both," if method == "same-different" else ""
    assert f"a lift of 1 dB around 2 kHz{where} was answered rightly in 8 of 8 trials" in text
    assert "8 known difference, not counted" in text
    whole = json.loads(json.dumps(exported(book, seals.sealed_plan(book, "evening"))))
    del whole["chain"]
    assert run_alone(whole, tmp_path).returncode == 0
    for trial in whole["sessions"][0]["trials"][:2]:
        changed = copy.deepcopy(whole)
        own = next(one for one in changed["sessions"][0]["trials"] if one["trial"] == trial["trial"])
        label = "X" if method == "abx" else "1"
        own["key"][label] = next(place for place in range(3) if place != own["key"][label])
        assert "is another one" in run_alone(changed, tmp_path).stderr


@pytest.mark.parametrize("method", ["tetrad", "same-different", "hidden-reference"])
def test_a_rehearsal_hears_the_known_difference_where_it_hears(book: Casebook, method: str) -> None:
    sealed_plan(book, method=method, trials=8, known=6, step_db="-1")
    simulated_listener.rehearse(book, "evening", 1.0, 1)
    own = known_of(judged(book, "evening", rehearsals=True))
    assert (own.right, own.answered) == (6, 6)
