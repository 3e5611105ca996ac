"""A plan's name, who runs it and what it asks keep bounds; what was called otherwise before still opens."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sessions.casebook import catalogue
from sessions.casebook.store import Casebook
from sessions.desk import builder
from sessions.desk.builder import Asked
from sessions.errors import PlanError
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan_rows import Draft, Wish
from tests.answered_plans import PAIR
from tests.command_line import earwitness

WISH = Wish("abx", PAIR, listeners=("Ada",), trials=8)
NO_NAMES = ["n" * 61, "n" * 400, "<b>a</b>", "../../x", " evening", "two\nlines", "evening?"]
RULE = "use 1 to 60 letters, digits, spaces and . , - _ + & / ( ), beginning with a letter or digit"
LONGEST = 300


@pytest.mark.parametrize("name", NO_NAMES)
def test_a_plan_and_who_runs_it_are_called_as_listeners_may_be(casebook: Casebook, name: str) -> None:
    with pytest.raises(PlanError, match="a plan's name") as refused:
        drafting.draft(casebook, WISH, name)
    assert str(refused.value).endswith(RULE)
    with pytest.raises(PlanError, match="the operator's name") as refused:
        drafting.draft(casebook, replace(WISH, operator=name))
    assert str(refused.value).endswith(RULE)
    assert len(str(refused.value)) < 300
    assert plan_rows.draft_names(casebook) == []


@pytest.mark.parametrize("name", ["n" * 60, "evening", "5. März, A/B (+1 dB)"])
def test_names_of_letters_digits_and_the_signs_that_are_listed_are_taken(casebook: Casebook, name: str) -> None:
    made = drafting.draft(casebook, replace(WISH, operator=name), name)
    assert (made.name, made.document["operator"]) == (name, name)


def test_a_question_is_one_that_a_listener_can_read_at_a_glance(casebook: Casebook) -> None:
    with pytest.raises(PlanError, match="--question is 301 letters long; give at most 300"):
        drafting.draft(casebook, replace(WISH, question="q" * (LONGEST + 1)), "evening")
    drafting.draft(casebook, replace(WISH, question="q" * LONGEST), "evening")


def test_a_draft_is_neither_renamed_nor_changed_to_what_it_could_not_have_been(casebook: Casebook) -> None:
    drafting.draft(casebook, WISH, "evening")
    for words in (
        ("rename", "draft", "evening", "<b>a</b>"),
        ("edit", "draft", "evening", "--operator", "o" * 2000),
        ("edit", "draft", "evening", "--question", "q" * 5000),
        ("plan", "abx", "--setup", "sallow", "--setup", "bracken", "--listener", "Ada", "--name", "n" * 400),
    ):
        said = earwitness(casebook.folder, *words)
        assert said.returncode == 2, said
        assert said.stderr.count("\n") == 1
        assert len(said.stderr) < LONGEST
    kept = plan_rows.draft(casebook, "evening")
    assert kept is not None
    assert (kept.wish.operator, kept.wish.question) == ("", "")
    assert plan_rows.draft_names(casebook) == ["evening"]


def test_the_desk_refuses_the_same_in_words_of_its_fields(casebook: Casebook) -> None:
    asked = Asked("abx", PAIR, listeners=("Ada",), trials=8)
    with pytest.raises(PlanError, match="a plan's name"):
        builder.draft(casebook, replace(asked, name="n" * 400))
    with pytest.raises(PlanError, match="the operator's name"):
        builder.draft(casebook, replace(asked, operator="<i>x</i>"))


def test_a_draft_that_was_called_otherwise_before_is_shown_changed_and_sealed(casebook: Casebook) -> None:
    catalogue.add_listener(casebook, "Ada")
    old = Draft("plan-old", "n" * 400, replace(WISH, operator="o" * 2000, question="q" * 5000))
    plan_rows.keep_draft(casebook, old)
    assert drafting.drafted(casebook, old.name) is not None
    drafting.redraft(casebook, old, replace(old.wish, trials=10))
    with pytest.raises(PlanError, match="the operator's name"):
        drafting.redraft(casebook, old, replace(old.wish, operator="p" * 2000))
    assert seals.seal(casebook, old.name).plan.trials == 10
