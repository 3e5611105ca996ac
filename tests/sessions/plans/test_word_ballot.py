"""Ballots of words: which can be sealed, in which order they are shown, what can be answered and found."""

from __future__ import annotations

import hashlib
import hmac
import json
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from sessions.casebook.store import Casebook
from sessions.commands.plan import show_plan
from sessions.errors import ListenError, PlanError
from sessions.listening import session
from sessions.plans import drafting, planned_test, seals, trial_keys
from sessions.plans.methods.word_ballot import WORD_BALLOT, balanced_orders
from sessions.plans.plan import Plan
from sessions.plans.plan_rows import Wish
from sessions.results import review, sentences
from sessions.results.ballot_outcomes import WordBallots
from tests.answered_plans import PAIR, answer_all, checked_alone, sealed_plan
from tests.records import plan

TEN = ("bright", "boomy", "thin", "wide", "dry", "warm", "harsh", "dull", "near", "crisp")


def wished(words: tuple[str, ...] = TEN, **more: object) -> Wish:
    return Wish("words", PAIR, listeners=("Ada",), words=words, **more)  # type: ignore[arg-type]


def shown_by_the_rule(secret: bytes, plan_id: str, words: list[str], row: int) -> list[str]:
    """The order of the words as `sealing.md` states it, written down once more."""
    n, dealt = len(words), list(words)
    for place in range(n - 1, 0, -1):
        digest = hmac.new(secret, f"words|{plan_id}|1|1|{place}".encode(), hashlib.sha256).digest()
        other = next(
            x % (place + 1)
            for x in (int.from_bytes(digest[at : at + 4], "big") for at in range(0, 32, 4))
            if x < 2**32 // (place + 1) * (place + 1)
        )
        dealt[place], dealt[other] = dealt[other], dealt[place]
    first = [0, *(number for pair in zip(range(1, n), range(n - 1, 0, -1), strict=True) for number in pair)][:n]
    rows = [[(number + more) % n for number in first] for more in range(n)]
    rows += [each[::-1] for each in rows] if n % 2 else []
    return [dealt[number] for number in rows[row % len(rows)]]


@pytest.mark.parametrize("words", [TEN, TEN[:7], TEN[:2]])
def test_the_words_are_shown_in_the_order_of_the_sealing_rule(words: tuple[str, ...]) -> None:
    made = plan("words", 12, listeners=4, stated={"words": list(words)})
    for secret in (b"\x01" * 32, b"\x02" * 32):
        for row, listener in enumerate(made.listeners):
            met = trial_keys.met(made, secret, listener.id)
            assert list(met.shown) == shown_by_the_rule(secret, made.id, list(words), row)  # type: ignore[attr-defined]
            assert met.listed == words  # the plan's own order stays as it was


@pytest.mark.parametrize("number", range(2, 17))
def test_every_word_stands_in_every_place_and_after_every_other_equally_often(number: int) -> None:
    rows = balanced_orders(number)
    assert all(sorted(row) == list(range(number)) for row in rows)
    places = Counter((place, item) for row in rows for place, item in enumerate(row))
    assert set(places.values()) == {len(rows) // number}
    after = Counter(pair for row in rows for pair in pairwise(row))
    assert len(after) == number * (number - 1)
    assert len(set(after.values())) == 1


def test_another_replicate_has_another_order_and_a_session_keeps_its_own(casebook: Casebook) -> None:
    orders = []
    for name in ("first", "second"):
        sealed_plan(casebook, name, method="words", words=TEN, trials=3)
        for _ in range(2):  # left and taken up again
            with session.begin(casebook, name, "Ada", "none: test") as running:
                orders.append(running.method.shown)  # type: ignore[attr-defined]
    assert orders[0] == orders[1] != orders[2] == orders[3]


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ('{"1":["bright","thin"],"2":[]}', ""),
        ('{"1":[],"2":[]}', ""),
        ('{"1":["bright"]}', "ticks are wanted for 1, 2; got 1"),
        ('{"1":[],"2":[],"3":[]}', "ticks are wanted for 1, 2"),
        ('{"1":["loud"],"2":[]}', "'loud' is no word of this ballot; tick some of bright, boomy, thin, wide"),
        ('{"1":["thin","bright"],"2":[]}', "once each, in the plan's order"),
        ('{"1":["thin","thin"],"2":[]}', "once each, in the plan's order"),
        ('{"1":"bright","2":[]}', "holds no ticks"),
        ('{"1":[1],"2":[]}', "holds no ticks"),
        ('["bright"]', "holds no ticks"),
        ("A", "holds no ticks"),
    ],
)
def test_some_words_of_the_plan_or_none_are_an_answer_and_nothing_else(answer: str, says: str) -> None:
    method = plan("words", 12).method
    if says:
        with pytest.raises(ListenError, match=re.escape(says)):
            method.check_answer(answer)
    else:
        method.check_answer(answer)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "a ballot has 2 to 16 words, 8 to 12 at best; got 0; name them with --word"),
        (("bright",), "got 1"),
        (tuple(f"word {n}" for n in range(17)), "got 17"),
        (("boomy", "thin", "Thumpy"), "'boomy' and 'Thumpy' are the same word (boomy); keep one of them"),
        (("Bright", "bright "), "'Bright' and 'bright' are the same word"),
        (("fizzlike", "Fizzlike"), "the same word"),
        (("bright", "pleasant"), "'pleasant' says whether you liked it. Which word says what you heard?"),
        (("bright", "a word that is far too long"), "1 to 20 letters"),
        (("bright", "  "), "1 to 20 letters; got ''"),
        (("bright", "du\x1bll"), "1 to 20 letters"),
    ],
)
def test_words_that_cannot_stand_on_a_ballot_are_refused(casebook: Casebook, words: tuple[str, ...], says: str) -> None:
    with pytest.raises(PlanError, match=re.escape(says)):
        drafting.draft(casebook, wished(words))
    assert casebook.query("SELECT * FROM drafts") == []


@pytest.mark.parametrize(("trials", "least"), [(24, 8), (10, 4), (3, 1), (1, 1)])
def test_one_presentation_in_four_at_least_is_of_the_same_twice(casebook: Casebook, trials: int, least: int) -> None:
    made = drafting.draft(casebook, wished(trials=trials))
    assert made.controls == least
    assert 4 * made.controls >= made.slots > 4 * (made.controls - 1) - 1
    if least > 1:
        with pytest.raises(PlanError, match=f"at least {least} more in which everything is the same"):
            drafting.draft(casebook, wished(trials=trials, controls=least - 1))
    assert drafting.draft(casebook, wished(trials=trials + 2, controls=trials)).controls == trials


def test_the_document_holds_the_words_in_the_order_given(casebook: Casebook) -> None:
    made = drafting.draft(casebook, wished(("Näselnd", "  bright  ", "boomy")))
    assert made.document["words"] == ["Näselnd", "bright", "boomy"]
    assert drafting.drafted(casebook, made.name).document["words"] == made.document["words"]  # type: ignore[union-attr]


def test_before_the_seal_it_says_what_so_many_trials_can_find_of_so_many_words(
    casebook: Casebook, capsys: pytest.CaptureFixture[str]
) -> None:
    """24 pairs, 10 words: 0.75 (`stats.ballot_power`, checked there); 8 pairs cannot, 2·2⁻⁸ is above 0.05/10."""
    show_plan(drafting.draft(casebook, wished()))
    said = " ".join(capsys.readouterr().out.split())
    assert "Words, in the order given: bright, boomy, thin, wide, dry, warm, harsh, dull, near, crisp." in said
    assert (
        "With 24 trials and 10 words, only a word ticked of one of the two alone in at least about 75 % of the trials "
        "(and of the other alone in 10 %, which is taken for granted) is likely to be found." in said
    )
    assert "8 more trials are controls" in said
    made = drafting.draft(casebook, wished(trials=8))
    none = "With 8 trials and 10 words, no word can be found, not even one ticked of the one alone in every trial"
    assert any(none in line for line in sentences.planned(made))
    warned = planned_test.warnings(made.method, made.document)
    assert "CANNOT show it, however plain it is: alpha 0.05 is within reach from 9 trials on" in warned[0]


def test_too_few_trials_for_a_word_that_goes_astray_still_find_a_plain_one_and_it_says_so(casebook: Casebook) -> None:
    """By hand, at .05/4: 2·2⁻⁸ = .0078 is within it and 2·2⁻⁷ is not; of 12 at 9 to 1 those with 11 or more find it.

    Of 12 trials that all differ, 10 to 2 has 2·(1+12+66)/4096 = .039 and 11 to 1 2·13/4096 = .0063.
    """
    made = drafting.draft(casebook, wished(TEN[:4], trials=12))
    assert made.document["likely_found_from"] == "none"
    told = " ".join(sentences.planned(made))
    assert "however plainly" not in told
    found = 0.9**12 + 12 * 0.9**11 * 0.1
    assert f"ticked of the right one alone in all other trials, it is found by {100 * found:.0f} %" in told
    assert "in 10 % of the trials (which is taken for granted here)" in told
    assert "is found where it is ticked of the right one alone in at least 8 of the 12 trials" in told
    needed = int(told.partition(" trials would be needed")[0].rpartition(" ")[2])
    assert drafting.draft(casebook, wished(TEN[:4], trials=needed)).document["likely_found_from"] != "none"


def test_fewer_words_need_a_smaller_effect(casebook: Casebook) -> None:
    found = [
        float(drafting.draft(casebook, wished(TEN[:number])).document["likely_found_from"]) for number in (2, 5, 10)
    ]
    assert found == sorted(found)
    assert len(set(found)) == 3


def test_a_ballot_goes_from_its_seal_to_a_verdict_that_a_stranger_recomputes(
    casebook: Casebook, tmp_path: Path
) -> None:
    sealed_plan(casebook, method="words", words=TEN, trials=12, listeners=("Ada", "Bo"))
    answer_all(casebook, 1.0)
    answer_all(casebook, 1.0, listener="Bo")
    (judged,) = review.review(casebook).plans
    found = judged.verdict.outcome
    assert isinstance(found, WordBallots)
    assert [one.word for one in found.separating(0.05)] == ["bright", "boomy"]
    first, second = found.words[:2]
    assert (first.first_only, first.second_only) == (24, 0)  # it hears it in every trial, of the plan's first setup
    assert (second.first_only, second.second_only) == (0, 24)
    assert first.flips is not None
    assert first.flips.pairs == 8
    said = checked_alone(casebook, tmp_path)
    assert f"; p = {judged.verdict.p_value:.6g}; alpha 0.05; by itself: heard" in said
    assert "'bright': [24, 0]" in said


def test_a_sealed_ballot_can_be_read_anew_and_asks_its_question_with_any_words(casebook: Casebook) -> None:
    sealed_plan(casebook, "first", method="words", words=TEN[:4], trials=12)
    again = seals.sealed_plan(casebook, "first").plan
    assert again.method.listed == TEN[:4]
    assert Plan.from_text(again.text).document["words"] == list(TEN[:4])
    made = drafting.draft(casebook, wished(TEN[5:]))
    assert [one.name for one in made.earlier] == ["first"]  # other words are another try at the same question


def test_kept_answers_hold_words_in_the_plans_order() -> None:
    method = WORD_BALLOT.with_words(("wide", "bright", "thin"))
    kept = method.answer_of({"2": ("thin", "wide"), "1": ()})
    assert json.loads(kept) == {"1": [], "2": ["wide", "thin"]}
    method.check_answer(kept)
