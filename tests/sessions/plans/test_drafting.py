"""Drafts: what fits becomes a plan, what does not is refused in one line."""

from __future__ import annotations

import re

import pytest

from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError, PlanError
from sessions.plans import drafting
from sessions.plans.plan_rows import Wish
from tests.answered_plans import PAIR, SETUPS


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        (Wish("abx", PAIR, listeners=("Ada",), trials=0), "1 to 1000"),
        (Wish("abx", PAIR, listeners=("Ada",), trials=1001), "1 to 1000"),
        (Wish("abx", PAIR, listeners=("Ada",), alpha="0.6"), "alpha 0.6 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), alpha="0"), "alpha 0 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), effect="0.5"), "effect 0.5 is out of range"),
        (Wish("abx", PAIR), "names its listeners"),
        (Wish("abx", PAIR, listeners=("Ada", "Ada")), "named twice"),
    ],
)
def test_numbers_out_of_range_are_refused(casebook: Casebook, wish: Wish, says: str) -> None:
    with pytest.raises(PlanError, match=says):
        drafting.draft(casebook, wish)
    assert casebook.query("SELECT * FROM drafts") == []


def test_an_unknown_setup_is_named_with_the_known_ones(casebook: Casebook) -> None:
    with pytest.raises(CatalogueError, match=r"no setup called 'willow'.*bracken, sallow"):
        drafting.draft(casebook, Wish("abx", ("sallow", "willow"), listeners=("Ada",)))


def binom(n: int, k: int) -> int:
    from math import comb

    return comb(n, k)


def test_criterion_and_power_are_those_of_the_whole_panel(casebook: Casebook) -> None:
    made = drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada", "Bo"), trials=8))
    assert made.criterion == 12  # 12 of 16: Leventhal, JAES 34(6), 1986
    power = sum(binom(16, k) * 0.75**k * 0.25 ** (16 - k) for k in range(12, 17))
    assert float(made.document["power"]) == pytest.approx(power, abs=5e-5)


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
        (Wish("preference", PAIR, listeners=("Ada",), known=4, step_db="1"), "preference has no right answer"),
        (Wish("round-robin", SETUPS, listeners=("Ada",), known=4, step_db="1"), "round-robin has no right answer"),
        (
            Wish("multi-stimulus", SETUPS, listeners=("Ada",), known=4, step_db="1"),
            "multi-stimulus has no right answer",
        ),
        (Wish("abx", PAIR, listeners=("Ada",), known=4), "--known N with one of --lift HZ:DB and --step DB"),
        (Wish("abx", PAIR, listeners=("Ada",), step_db="1"), "--known N with one of"),
        (
            Wish("abx", PAIR, listeners=("Ada",), known=4, lift_hz=2000, lift_db="1", step_db="1"),
            "--known N with one of",
        ),
        (Wish("abx", PAIR, listeners=("Ada",), trials=10, known=11, step_db="1"), "--known 11 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), known=-1, step_db="1"), "--known -1 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), known=4, lift_hz=20, lift_db="1"), "--lift 20:1 is too low"),
        (Wish("abx", PAIR, listeners=("Ada",), known=4, lift_hz=2000, lift_db="-1"), "--lift 2000:-1 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), known=4, step_db="13"), "--step 13 is out of range"),
        (Wish("abx", PAIR, listeners=("Ada",), rule_out="1.5"), "--rule-out 1.5 is out of range"),
    ],
)
def test_a_plan_that_does_not_fit_is_refused_and_leaves_no_draft(book: Casebook, wish: Wish, says: str) -> None:
    with pytest.raises(PlanError, match=re.escape(says)):
        drafting.draft(book, wish)
    assert book.query("SELECT * FROM drafts") == []
