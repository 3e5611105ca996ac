"""Every kind of record, of every method, put into words: compared with the text that was read sentence by sentence.

After a change on purpose, read what differs and keep it: `python -m tests.sessions.results.test_every_kind_of_record`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from sessions.plans.methods.table import METHODS
from sessions.report import result_pictures
from sessions.results import sentences
from sessions.results.plan_record import PlanRecord
from sessions.results.together import judged_together
from sessions.results.verdict import Verdict, judge
from tests.records import NEITHER, RIGHT, WRONG, plan, record

READ = Path(__file__).parents[2] / "data" / "every_kind_of_record.txt"
TRIALS = {"triangle": 9, "tetrad": 9, "hidden-reference": 8, "multi-stimulus": 8, "round-robin": 12}
COUNTED = tuple(name for name, method in METHODS.items() if method.analysis == "count")
BARE = {"match": {"sheet": "none", "by": "none", "residual_lu": "none", "tolerance_lu": "none"}}


def trials(method: str) -> int:
    return TRIALS.get(method, 10)


def controls(method: str) -> int:
    return 2 if METHODS[method].controls_possible else 0


def half(method: str) -> list[str]:
    return ([RIGHT, WRONG] * trials(method))[: trials(method)]


Kind = Callable[[str], PlanRecord]

FIXED: Mapping[str, Kind] = {
    "not begun": lambda m: record(plan(m, trials(m)), [None], over=False),
    "running": lambda m: record(plan(m, trials(m)), [[RIGHT, WRONG]], over=False),
    "given up unopened": lambda m: replace(
        record(plan(m, trials(m)), [[RIGHT, WRONG]], over=False), given_up="the second secret is lost"
    ),
    "closed, nobody began": lambda m: record(plan(m, trials(m)), [None]),
    "closed, begun and nothing answered": lambda m: record(plan(m, trials(m)), [[]], controls=False),
    "closed, controls alone answered": lambda m: record(plan(m, trials(m), controls=controls(m)), [[]]),
    "closed after one answer": lambda m: record(plan(m, trials(m)), [[RIGHT]]),
    "closed after one answer, void": lambda m: record(plan(m, trials(m), stated=BARE), [[RIGHT]]),
    "closed before any answer, void": lambda m: record(plan(m, trials(m), stated=BARE), [None]),
    "closed after six, all right": lambda m: record(plan(m, trials(m)), [[RIGHT] * 6]),
    "closed after six, all wrong": lambda m: record(plan(m, trials(m)), [[WRONG] * 6]),
    "closed but for one, all right": lambda m: record(plan(m, trials(m)), [[RIGHT] * (trials(m) - 1)]),
    "closed, one of three listeners missing": lambda m: record(
        plan(m, trials(m), listeners=3), [[RIGHT] * trials(m), [WRONG, *[RIGHT] * (trials(m) - 3)], None]
    ),
    "all right": lambda m: record(plan(m, trials(m), controls=controls(m)), [[RIGHT] * trials(m)]),
    "all wrong": lambda m: record(plan(m, trials(m)), [[WRONG] * trials(m)]),
    "half right": lambda m: record(plan(m, trials(m)), [half(m)]),
    "half right, void": lambda m: record(plan(m, trials(m), stated=BARE), [half(m)]),
    "two listeners, one all right and one all wrong": lambda m: record(
        plan(m, trials(m), listeners=2), [[RIGHT] * trials(m), [WRONG] * trials(m)]
    ),
    "three trials, all right": lambda m: record(plan(m, 3), [[RIGHT] * 3]),
    "a rehearsal, all right": lambda m: record(plan(m, trials(m)), [[RIGHT] * trials(m)], over=False, rehearsal=True),
    "a planned power that is no number": lambda m: record(plan(m, trials(m), stated={"power": "nan"}), [half(m)]),
}
SEQUENTIAL: Mapping[str, Kind] = {
    f"{rule}, {what}": lambda m, rule=rule, answers=answers: record(plan(m, 30, rule=rule), answers)  # type: ignore[misc]
    for rule in ("sprt", "e-process")
    for what, answers in {
        "closed, nobody began": [None],
        "closed after one answer": [[RIGHT]],
        "closed after four, all right": [[RIGHT] * 4],
        "heard": [[RIGHT] * 15],
        "not shown": [[WRONG] + [WRONG, RIGHT] * 14 + [WRONG]],
    }.items()
}
TIES: Mapping[str, Kind] = {
    f"ties {policy}, {what}": lambda m, policy=policy, answers=answers: record(plan(m, 10, ties=policy), answers)  # type: ignore[misc]
    for policy in ("drop", "split")
    for what, answers in {
        "ties only": [[NEITHER] * 10],
        "closed, ties only": [[NEITHER] * 3],
        "three ties": [[NEITHER] * 3 + [RIGHT] * 7],
        "closed, a tie": [[NEITHER] + [RIGHT] * 8],
    }.items()
}
ONE_SIDED: Mapping[str, Kind] = {
    "side foreseen, all for it": lambda m: record(plan(m, 10, one_sided=True), [[RIGHT] * 10]),
    "side foreseen, all against it": lambda m: record(plan(m, 10, one_sided=True), [[WRONG] * 10]),
    "side foreseen, closed after nine for it": lambda m: record(plan(m, 10, one_sided=True), [[RIGHT] * 9]),
}
EQUAL: Mapping[str, Kind] = {"all graded alike": lambda m: record(plan(m, trials(m)), [[NEITHER] * trials(m)])}
RULED_OUT: Mapping[str, Kind] = {
    "meant to rule out half, half right": lambda m: record(plan(m, 60, stated=RULE_OUT), [[RIGHT, WRONG] * 30]),
    "meant to rule out half, closed at once": lambda m: record(plan(m, 60, stated=RULE_OUT), [[WRONG]]),
    "meant to rule out half, closed after 50, few right": lambda m: record(
        plan(m, 60, stated=RULE_OUT), [[WRONG, WRONG, RIGHT, WRONG, WRONG] * 10]
    ),
}
LIFT = {"known": {"trials": 8, "lift_hz": 2000, "lift_db": "1.0", "octaves": "1", "residual_lu": "0.0010"}}
STEP = {"known": {"trials": 6, "step_db": "-0.5", "residual_lu": "0.0000"}}
KNOWN: Mapping[str, Kind] = {
    "half right, the known difference in seven of eight": lambda m: record(
        plan(m, trials(m), stated=LIFT, controls=controls(m)), [half(m)], known=[*[RIGHT] * 7, WRONG]
    ),
    "half right, the known difference in four of eight": lambda m: record(
        plan(m, trials(m), stated=LIFT), [half(m)], known=[RIGHT, WRONG] * 4
    ),
    "all right, a known step in all": lambda m: record(plan(m, trials(m), stated=STEP), [[RIGHT] * trials(m)]),
    "half right, void, a known step in none": lambda m: record(
        plan(m, trials(m), stated={**STEP, **BARE}), [half(m)], known=[WRONG] * 6
    ),
    "two listeners, one guessing, a known step in all": lambda m: record(
        plan(m, trials(m), stated=STEP, listeners=2), [[RIGHT] * trials(m), half(m)]
    ),
    "closed early, one known difference answered": lambda m: record(plan(m, 30, stated=LIFT), [[RIGHT]], known=[RIGHT]),
    "closed but for one, all wrong, no known difference answered": lambda m: record(
        plan(m, trials(m), stated=LIFT), [[WRONG] * (trials(m) - 1)], known=[]
    ),
    "closed, known differences alone answered": lambda m: record(plan(m, trials(m), stated=LIFT), [[]]),
    "a rehearsal with a known difference": lambda m: record(
        plan(m, trials(m), stated=LIFT), [half(m)], over=False, rehearsal=True
    ),
}
KNOWN_SEQUENTIAL: Mapping[str, Kind] = {
    "sprt, not shown, with a known difference": lambda m: record(
        plan(m, 30, rule="sprt", stated=LIFT), [[WRONG] + [WRONG, RIGHT] * 14 + [WRONG]]
    ),
    "e-process, heard, with a known difference": lambda m: record(
        plan(m, 30, rule="e-process", stated=LIFT), [[RIGHT] * 15]
    ),
}
RULE_OUT = {"rule_out": "0.5", "by_passage": True}


def kinds(method: str) -> dict[str, Kind]:
    """The kinds of record that a method can have."""
    found = dict(FIXED)
    if method in COUNTED:
        found |= SEQUENTIAL
        found |= {**TIES, **ONE_SIDED} if method == "preference" else RULED_OUT
    if METHODS[method].analysis in ("difference grades", "quality grades"):
        found |= EQUAL
    if METHODS[method].known_possible:
        found |= {**KNOWN, **KNOWN_SEQUENTIAL} if method in COUNTED else KNOWN
    if not METHODS[method].controls_possible:
        del found["closed, controls alone answered"]
    return found


def judged(method: str, kind: str) -> Verdict:
    found = kinds(method)[kind](method)
    if "heard" in kind or "not shown" in kind:
        found = ended(found)
    return judged_together([judge(found)])[0]


def ended(found: PlanRecord) -> PlanRecord:
    """A sequential record cut where its boundaries say."""
    from dataclasses import replace

    rule, (session,) = found.plan.sequential, found.sessions
    assert rule is not None
    right = given = 0
    for n, trial in enumerate(session.trials, 1):
        assert trial.answer is not None
        if not found.plan.counts(trial.key):
            continue
        given += 1
        right += found.plan.counted.score(trial.key, trial.answer)
        if rule.boundaries.decision(given, right) is not None:
            return replace(found, sessions=(replace(session, trials=session.trials[:n], answered=n),))
    raise AssertionError("no boundary was reached")


def said(method: str) -> str:
    """All kinds of record of a method, in words."""
    parts = []
    for kind in kinds(method):
        lines = sentences.sentences(judged(method, kind))
        parts.append("\n".join([f"== {method}: {kind}", *lines]))
    return "\n\n".join(parts)


@pytest.mark.parametrize("method", METHODS)
def test_every_kind_of_record_says_what_was_read(method: str) -> None:
    parts = READ.read_text(encoding="utf-8").rstrip("\n").split("\n\n")
    assert said(method).split("\n\n") == [part for part in parts if part.startswith(f"== {method}:")]


@pytest.mark.parametrize("method", METHODS)
def test_every_kind_of_record_has_a_document_and_its_pictures(method: str) -> None:
    for kind in kinds(method):
        found = judged(method, kind)
        json.dumps(found.to_document(), allow_nan=False)
        for picture in result_pictures.of(found):
            assert picture.draw().startswith("<svg"), kind


if __name__ == "__main__":
    READ.write_text("\n\n".join(said(method) for method in METHODS) + "\n", encoding="utf-8")
