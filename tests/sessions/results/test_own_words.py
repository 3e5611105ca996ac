"""Beside a ballot's verdict: each listener's own numbers of every word, so that two who disagree are not hidden."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from sessions.plans.plan import Plan
from sessions.results.answers import Answer, SessionAnswers
from sessions.results.supplementary_sentences import LISTENERS, blocks
from sessions.results.verdict import ANALYSES, Verdict, judge
from tests.records import RIGHT, WORDS, WRONG, plan, record
from tests.sessions.results.test_ballots_of_many import many_plan
from tests.sessions.results.test_rated_ballots import rated_plan

Marks = Sequence[Mapping[str, int]]


def every(mark: int, **other: int) -> dict[str, int]:
    return dict.fromkeys(WORDS, mark) | other


def own_lines(verdict: Verdict) -> list[str]:
    return [line for block in blocks(verdict) if block.title.startswith(LISTENERS) for line in block.lines]


def verdict_of(made: Plan, given: Mapping[str, Sequence[Marks]]) -> Verdict:
    """Of several listeners; what each setup got in each of their trials, the setups heard in turn as 1."""

    def answer(trial: int, marks: Marks) -> Answer:
        key = {f"{place + 1}": (place + trial) % len(marks) for place in range(len(marks))}
        labelled = {label: marks[setup] for label, setup in key.items()}
        ticked = {label: [word for word in WORDS if own[word]] for label, own in labelled.items()}
        text = json.dumps(labelled if made.ballot.rating else ticked)
        made.method.check_answer(text)
        return Answer(trial, key, text, 2, 4000, "strings 1", 2, ())

    sessions = [
        SessionAnswers(name, made.trials, tuple(answer(n, marks) for n, marks in enumerate(trials)))
        for name, trials in given.items()
    ]
    trials = sum(map(len, given.values()))
    outcome = ANALYSES[made.method.analysis](made, sessions, trials)
    made_of = judge(record(plan("words", 12, listeners=2), [[RIGHT] * 12] * 2))
    return Verdict(made, "not shown", "complete", [], trials, trials, outcome=outcome, beside=made_of.beside)


def test_two_who_tick_oppositely_are_each_told_by_themselves() -> None:
    made = plan("words", 10, listeners=2)
    found = judge(record(made, [[RIGHT] * 8 + [WRONG] * 2, [WRONG] * 8 + [RIGHT] * 2]))
    assert found.outcome is not None
    assert found.outcome.words[0].first_only == found.outcome.words[0].second_only  # type: ignore[attr-defined]
    lines = own_lines(found)
    assert "Ada, 10 trials: bright 8:2, boomy 2:8, thin 0:0, wide 0:0." in lines
    assert "Bo, 10 trials: bright 2:8, boomy 8:2, thin 0:0, wide 0:0." in lines
    assert lines[0] == "Each word by listener, ticked of sallow alone : of bracken alone, not tested:"
    stated = found.to_document()["analysis"]["by_listener"]
    assert stated[0] == {"listener": "Ada", "trials": 10, "words": [[8, 2], [2, 8], [0, 0], [0, 0]]}


def test_of_one_listener_and_of_one_who_answered_nothing_no_numbers_are_told() -> None:
    alone = judge(record(plan("words", 10), [[RIGHT] * 10]))
    assert own_lines(alone) == []
    assert "by_listener" not in alone.to_document()["analysis"]
    closed = judge(record(plan("words", 10, listeners=2), [[RIGHT] * 7, None]))
    lines = own_lines(closed)
    assert "Ada, 7 of 10 trials: bright 7:0, boomy 0:7, thin 0:0, wide 0:0." in lines
    assert "Bo answered 0 of 10." in lines


def test_ratings_are_told_by_listener_as_trials_in_which_one_was_rated_higher() -> None:
    made = rated_plan(12)
    more, less = (every(3, bright=8), every(3)), (every(3), every(3, bright=4))
    lines = own_lines(verdict_of(made, {"Ada": [more] * 9 + [less] * 3, "Bo": [less] * 12}))
    assert lines == [
        "Each word by listener, rated higher of sallow : of bracken, not tested:",
        "Ada, 12 trials: bright 9:3, boomy 0:0, thin 0:0, wide 0:0.",
        "Bo, 12 trials: bright 0:12, boomy 0:0, thin 0:0, wide 0:0.",
    ]


def test_of_more_than_two_setups_each_listener_has_the_ticks_or_the_mean_ratings_of_each() -> None:
    ticks = {
        "Ada": [(every(0, bright=1), every(0), every(0))] * 6,
        "Bo": [(every(0), every(0), every(0, bright=1))] * 6,
    }
    lines = own_lines(verdict_of(many_plan(6), ticks))
    assert lines[0] == "Each word by listener, ticked of sallow : bracken : willow, not tested:"
    assert lines[1] == "Ada, 6 trials: bright 6:0:0, boomy 0:0:0, thin 0:0:0, wide 0:0:0."
    assert lines[2].startswith("Bo, 6 trials: bright 0:0:6, ")
    rated = {"Ada": [(every(2, bright=7), every(2), every(2))] * 6, "Bo": [(every(2), every(2), every(2, thin=5))] * 6}
    lines = own_lines(verdict_of(many_plan(6, rated=True), rated))
    assert lines[0] == "Each word by listener, mean ratings of sallow : bracken : willow, not tested:"
    assert lines[1].startswith("Ada, 6 trials: bright 7.0:2.0:2.0, boomy 2.0:2.0:2.0,")
