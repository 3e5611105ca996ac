"""A report names the tests that an audience took: nothing of the answers before the end, then counts and limits."""

from __future__ import annotations

import pytest

from sessions.casebook import audience_answers
from sessions.casebook.catalogue import Setup, find
from sessions.casebook.store import Casebook
from sessions.plans import seals, viewers_rows
from sessions.plans.viewers_test import Form
from sessions.report import contents, page
from sessions.results import viewers_results, viewers_told
from sessions.results.viewers_results import ViewersTold
from tests.answered_plans import sealed_plan
from tests.viewers_tests import SECRET, end_viewers_test, seal_viewers_tests


@pytest.fixture
def asked(book: Casebook) -> Casebook:
    """A sealed plan, and a viewers' page and a soundtrack of it, which still await answers."""
    sealed_plan(book, "evening", method="abx", trials=8)
    seal_viewers_tests(book, "evening")
    return book


def shown(book: Casebook) -> str:
    return page.render(contents.gather(book, "a review", units=[find(book, Setup, "sallow")]))


def test_before_the_end_they_are_named_and_nothing_of_their_answers_is_told(asked: Casebook) -> None:
    text = shown(asked)
    assert "2 tests by viewers: 2 not over, so that nothing of it is told." in text
    orders_of: dict[Form, str] = {"page": " in 160 sealed orders", "soundtrack": ", one order for everybody"}
    for form, orders in orders_of.items():
        assert f"A viewers&#39; {form} of 5 trials{orders}" in text
        assert viewers_rows.of_plan(asked, "evening", form).seal in text
    assert text.count("it still awaits answers, and nothing of them is told before it is ended.") == 2
    assert SECRET.hex() not in text
    assert all(limit.split("'")[0] not in text for limit in (*viewers_told.PAGE_LIMITS, *viewers_told.POLL_LIMITS))


def test_after_the_end_counts_test_and_what_limits_the_conclusion_are_told(asked: Casebook) -> None:
    """40 x 5 right ones of 200: p = 2^-200; of a soundtrack all keys alike, one of 2^5 fits: p = 1/32."""
    plan = seals.sealed_plan(asked, "evening").plan
    end_viewers_test(asked, "evening", "page")
    end_viewers_test(asked, "evening", "soundtrack")
    codes, track = viewers_results.of_plan(asked, plan.id)
    assert codes.counts == viewers_results.Counts(40, 200, 200, 2.0**-200, "heard")
    assert track.counts == viewers_results.Counts(50, 50, 50, 1 / 32, "heard")
    assert set(viewers_told.PAGE_LIMITS) <= set(codes.lines)
    assert set(viewers_told.POLL_LIMITS) <= set(track.lines)
    text = shown(asked)
    assert (
        "a difference of sallow and bracken was heard, of viewers who chose to answer (40 answer codes, 200 of 200)"
        in text
    )
    assert "On what they listened, how loud and in which room nobody saw." in text
    assert "is coded with loss on its way" in text


def test_answers_that_are_gone_or_altered_are_not_told_and_the_same_ones_are_kept_again(asked: Casebook) -> None:
    sealed = end_viewers_test(asked, "evening", "page")
    path = audience_answers.path_of(asked.folder, sealed.test.id)
    whole = path.read_text()
    path.write_text(whole[:-25])
    [gone, _] = viewers_results.of_plan(asked, sealed.test.plan)
    assert gone.counts is None
    assert "They are not kept here" in gone.lines[1]
    viewers_rows.keep_answers(asked, sealed, whole[:-25])
    assert viewers_rows.answers_of(asked, sealed) is None
    viewers_rows.keep_answers(asked, sealed, whole)
    assert viewers_rows.answers_of(asked, sealed) == whole


def test_a_preference_of_viewers_is_summed_up_as_votes_for_the_first_setup() -> None:
    counts = viewers_results.Counts(20, 14, 40, 0.08, "not shown")
    told = ViewersTold("page", "s", ("sallow", "bracken"), True, (), counts, asks_preference=True)
    assert viewers_results.summed_up([told]) == (
        "1 test by viewers: a preference for one of sallow and bracken was not shown, of viewers who chose to answer "
        "(20 answer codes, 14 of 40 for sallow)."
    )
