"""The plan builder: what it foresees is what the draft then states."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sessions.casebook.store import Casebook
from sessions.desk import builder, foresight
from sessions.desk.builder import Asked
from sessions.plans import drafting, plan_rows
from sessions.plans.methods.counted import CountedMethod
from sessions.plans.methods.table import METHODS
from sessions.results import sentences
from tests.answered_plans import OF_MANY, PAIR, SETUPS

WORDS = ("bright", "boomy", "thin")


def asked(method: str, **more: object) -> Asked:
    given = {"setups": SETUPS if method in OF_MANY else PAIR, "listeners": ("Ada",)} | more
    return Asked(method, words=WORDS if method == "words" else (), **given)  # type: ignore[arg-type]


@pytest.mark.parametrize("method", METHODS)
def test_what_is_foreseen_is_what_the_draft_states(book: Casebook, method: str) -> None:
    wish = asked(method, more_listeners=("Grace",))
    foreseen = foresight.foreseen(book, wish)
    assert foreseen.refused == ""
    made = builder.draft(book, wish)
    assert foreseen.trials == made.trials
    assert list(foreseen.sentences[1:]) == sentences.planned(made)
    assert [one.name for one in made.listeners] == ["Ada", "Grace"]


def test_nothing_is_kept_before_the_draft_and_the_first_setup_is_the_one_that_was_chosen(book: Casebook) -> None:
    wish = asked("abx", first="bracken", more_listeners=("Zoe",), trials=16)
    before = book.query("SELECT count(*) AS n FROM listeners")
    foresight.foreseen(book, wish)
    assert book.query("SELECT count(*) AS n FROM listeners") == before
    assert plan_rows.draft_names(book) == []
    assert [one.name for one in builder.draft(book, wish).setups] == ["bracken", "sallow"]


def test_an_evenings_length_follows_from_trials_sounds_and_passages(book: Casebook) -> None:
    """32 trials of three sounds of 3 s (A, B and X), and 15 s each to answer: 12.8 to 22.4 minutes."""
    told = foresight.foreseen(book, asked("abx", trials=32)).length
    assert told.startswith("About 13 to 22 minutes for each listener")


@pytest.mark.parametrize(
    ("wish", "why"),
    [
        (Asked("abx"), "abx compares 2 setups, and 0 are chosen"),
        (Asked("abx", setups=SETUPS), "abx compares 2 setups, and 3 are chosen"),
        (Asked("abx", setups=PAIR, trials=0), "“Trials for each listener” 0 is out of range"),
        (Asked("abx", setups=PAIR, effect="2"), "“The difference it is meant to find” 2 is out of range"),
        (Asked("abx", setups=PAIR, alpha="much"), "“The error rate accepted (alpha)” takes a decimal number"),
        (
            Asked("abx", setups=PAIR, alpha="1e-300"),
            "“The error rate accepted (alpha)” 1e-300 is out of range; give 0.0001",
        ),
        (
            Asked("abx", setups=PAIR, alpha="0." + "1" * 5000),
            "“The error rate accepted (alpha)” takes a decimal number",
        ),
        (Asked("abx", setups=PAIR, stopping="sprt", listeners=("Ada", "Grace")), "a sequential plan has one listener"),
        (
            Asked("triangle", setups=PAIR, effect="0,8"),
            "“The difference it is meant to find” takes a decimal number such as 0.6667",
        ),
        (Asked("words", setups=PAIR, words=("bright",)), "a ballot has 2 to 16 words"),
        (Asked("dowsing", setups=PAIR), "there is no method 'dowsing'"),
    ],
)
def test_what_cannot_be_a_plan_is_told_in_one_sentence_of_its_fields(book: Casebook, wish: Asked, why: str) -> None:
    assert foresight.foreseen(book, wish).refused.startswith(why)


@pytest.mark.parametrize("method", [name for name, one in METHODS.items() if isinstance(one, CountedMethod)])
def test_the_range_of_the_difference_is_told_as_it_is_refused(book: Casebook, method: str) -> None:
    told = next(one.effect_told for one in builder.gather(book).methods if one.name == method)
    refused = foresight.foreseen(book, asked(method, effect="1.5")).refused
    bounds = refused.partition("give the proportion to find, ")[2]
    assert bounds.endswith("and up to 1")
    assert f": {bounds}; {bounds.split()[1]} is guessing alone" in told
    assert foresight.foreseen(book, asked(method, effect="1")).refused == ""


def test_fields_that_a_method_has_no_use_for_are_left_aside(book: Casebook) -> None:
    wish = asked("abx", ties="drop", one_sided=True, rated=True, trials=10)
    assert builder.wished(wish).ties == "not offered"
    assert foresight.foreseen(book, wish).refused == ""
    assert drafting.drafted(book, builder.draft(book, wish).name) is not None


def test_a_test_that_may_still_miss_is_never_said_to_find_it_for_sure(book: Casebook) -> None:
    """At 0.9 the binomial tail of 23 trials from 16 on is 0.9988, which two decimals would make 1.00."""
    told = " ".join(foresight.foreseen(book, asked("abx", effect="0.9", trials=23)).sentences)
    assert "with probability more than 0.99." in told
    assert "1.00" not in told


def test_words_that_the_lexicon_lacks_are_named_while_a_ballot_is_thought_out(book: Casebook) -> None:
    wish = asked("words")
    assert not any("not in the lexicon" in one for one in foresight.foreseen(book, wish).warnings)
    warned = foresight.foreseen(book, replace(wish, words=("brihgt", "boomy", "quux"))).warnings
    told = next((one for one in warned if "not in the lexicon" in one), "")
    assert told.startswith("brihgt, quux are not in the lexicon")
    assert "did you mean 'bright'?" in told
