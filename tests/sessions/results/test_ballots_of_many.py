"""Ballots of more than two setups: by every exchange of labels, over all keys, and from plan to check."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from itertools import permutations, product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from sessions.casebook.store import Casebook
from sessions.plans import planned_test, seals, trial_keys
from sessions.plans.methods.table import METHODS
from sessions.plans.methods.word_ballot import MANY_IN_WORDS, WordBallot
from sessions.plans.plan import Plan
from sessions.results import first_lines, outcome_sentences, review, sentences
from sessions.results.answers import Answer, SessionAnswers
from sessions.results.ballot_outcomes import WordsOfMany
from sessions.results.ballots_over import why_left_out
from sessions.results.verdict import ANALYSES, judge
from stats import many_setups_power
from tests.answered_plans import SETUPS, answer_all, checked_alone, sealed_plan
from tests.records import WORDS, plan, record


def many_plan(trials: int, words: Sequence[str] = WORDS, *, rated: bool = False, alpha: str = "0.05") -> Plan:
    method = METHODS["words"].asked(rated=rated).with_words(tuple(words)).with_labels(3, ties=False)
    stated: dict[str, Any] = planned_test.stated(method, planned_test.Numbers(trials, alpha, method.usual_effect), 3)
    setups = [{"setup": f"setup-{n}", "name": name} for n, name in enumerate(("sallow", "bracken", "willow"))]
    document = dict(plan("words", trials).document) | {"setups": setups} | method.words_part() | stated
    return Plan(document)


@pytest.mark.parametrize("rated", [False, True])
def test_a_ballot_of_many_is_told_plainly_and_sealed_in_exact_terms(rated: bool) -> None:
    made = many_plan(12, rated=rated)
    assert made.document["test"] == MANY_IN_WORDS
    said = " ".join(sentences.planned(made))
    assert ("as far apart by its ratings" in said, "as far apart by its ticks" in said) == (rated, not rated)
    assert ("Cochran's Q" in said) is not rated
    assert "seeded" not in said
    assert "Holm's correction" not in said
    assert "for one word, held to the strict limit that a word meets among all of them" in said
    older = Plan({**made.document, "test": "a test of before", "power_of": "of before"})
    assert "Test: a test of before (alpha" in sentences.planned(older)[0]
    assert any(line.endswith(", of before.") for line in sentences.planned(older))


def judged(made: Plan, marked: Sequence[Sequence[Mapping[str, int]]], keys: Sequence[Sequence[int]]) -> WordsOfMany:
    """Of one listener: what each label got in each trial, and the setup heard under each."""
    given = []
    for trial, (by_label, key) in enumerate(zip(marked, keys, strict=True), 1):
        labels = dict(zip("123", by_label, strict=True))
        ticked = {label: [word for word in made.ballot.words if own[word]] for label, own in labels.items()}
        answer = json.dumps(labels if made.ballot.rating else ticked)
        made.method.check_answer(answer)
        given.append(Answer(trial, dict(zip("123", key, strict=True)), answer, 2, 4000, "strings 1", 3, ()))
    session = SessionAnswers("Ada", made.trials, tuple(given))
    found = ANALYSES[made.method.analysis](made, [session], made.trials)
    assert isinstance(found, WordsOfMany)
    return found


@pytest.mark.parametrize("rated", [False, True])
def test_each_word_has_the_p_of_every_exchange_of_labels_within_trials(rated: bool) -> None:
    rng = np.random.default_rng(5)
    made = many_plan(4, rated=rated)
    marked = [[{word: int(rng.integers(0, 10 if rated else 2)) for word in WORDS} for _ in range(3)] for _ in range(4)]
    keys = [tuple(map(int, rng.permutation(3))) for _ in range(4)]
    found = judged(made, marked, keys)
    for word, told in zip(WORDS, found.words, strict=True):
        rows = [[own[word] for _, own in sorted(zip(key, trial, strict=True), key=lambda one: one[0])]
                for key, trial in zip(keys, marked, strict=True)]  # fmt: skip

        def apart(arranged: Sequence[Sequence[int]]) -> float:
            return float(np.var(np.sum(np.array(arranged), axis=0)))

        every = [apart(one) for one in product(*(list(permutations(row)) for row in rows))]
        expected = sum(one >= apart(rows) - 1e-9 for one in every) / len(every)
        assert told.p_value == pytest.approx(expected, abs=1e-12)
        assert told.means == pytest.approx(np.mean(rows, axis=0))
        assert (told.q is None) or not rated


def test_all_words_together_keep_alpha_over_all_keys_and_without_the_correction_would_not() -> None:
    """Ratings by label are fixed, of who hears nothing; which was heard as which was drawn afterwards: exact."""
    rng, trials, alpha = Generator(PCG64(3)), 3, 0.2
    made = many_plan(trials, rated=True, alpha=str(alpha))
    marked = [[{word: int(rng.integers(0, 10)) for word in WORDS} for _ in range(3)] for _ in range(trials)]
    reached = alone = 0
    every = list(product(permutations(range(3)), repeat=trials))
    for keys in every:
        found = judged(made, marked, keys)
        reached += bool(found.reached)
        alone += min(one.p_value or 0.0 for one in found.words) <= alpha
    assert 0 < reached / len(every) <= alpha < alone / len(every)


def test_which_is_heard_as_which_is_a_fair_permutation() -> None:
    made, seen = many_plan(400), dict.fromkeys(permutations(range(3)), 0)
    for trial in range(1, 401):
        seen[tuple(trial_keys.key(made, b"\x05" * 32, "listener-0", trial, 1)[label] for label in "123")] += 1  # type: ignore[index]
    counts = np.array(list(seen.values()))
    assert ((counts - 400 / 6) ** 2 / (400 / 6)).sum() < 20.5  # chi-square, 5 degrees of freedom, p .001


@pytest.mark.parametrize("rated", [False, True])
def test_three_setups_go_from_the_seal_to_a_verdict_that_a_stranger_recomputes(
    book: Casebook, tmp_path: Path, rated: bool
) -> None:
    sealed_plan(book, method="words", words=WORDS, trials=10, setups=SETUPS, rated=rated)
    made = seals.sealed_plan(book, "evening").plan
    assert made.method.stimuli == ("1", "2", "3")
    answer_all(book, 1.0)
    (one,) = review.review(book).plans
    found = one.verdict.outcome
    assert isinstance(found, WordsOfMany)
    assert one.verdict.verdict == "heard"
    bright = found.words[0]
    assert bright.means[0] > max(bright.means[1:])
    assert bright.flips is not None
    assert bright.flips.pairs == made.controls == 4
    told = checked_alone(book, tmp_path)
    if any(word.p_draws for word in found.words):  # too many sums: drawn here, not recomputed there
        assert rated
        assert "p was drawn; not recomputed here" in told
    else:
        assert f"; p = {one.verdict.p_value:.6f}; alpha 0.05; by itself: heard" in told
    first, second = first_lines.first_lines(one.verdict)
    assert "was HEARD, in 2 words: bright and boomy" in first
    assert (
        '"bright" was not rated alike (sallow' if rated else '"bright" was not ticked alike (sallow 100 %'
    ) in second
    assert second.endswith("This is about Ada alone.")
    said = outcome_sentences.numbers(made, found)
    assert "It says that not all got a word alike, and not which differs from which." in said[0]
    assert ("Cochran's Q" in said[1]) is not rated
    assert "compares 3 setups at once" in why_left_out(one.verdict)


def test_what_so_many_trials_can_find_is_said_and_is_what_the_test_itself_finds() -> None:
    """Simulated anew: ticks at the rate said, p by the program's own exact test at .05/4."""
    made = many_plan(12)
    least = float(made.document["likely_found_from"])
    rng, reached = np.random.default_rng(8), 0
    ballot = made.ballot
    assert isinstance(ballot, WordBallot)
    rates = np.array([least, 0.1, 0.1])
    for _ in range(100):
        ticks = (rng.random((12, 3)) < rates).astype(int)
        marked = [[dict.fromkeys(WORDS, 0) | {"bright": int(tick)} for tick in row] for row in ticks]
        found = judged(made, marked, [(0, 1, 2)] * 12)
        reached += (found.words[0].p_value or 0.0) <= 0.05 / 4
    assert reached / 100 == pytest.approx(0.8, abs=0.17)  # four standard errors, and the approximation
    said = " ".join(ballot.planned_in_words(made.document))
    assert "only a word ticked of one of the setups in at least about" in said
    assert many_plan(4).document["likely_found_from"] == "none"  # 3 · (1/3)⁴ = 0.037 is above 0.05/4
    assert many_setups_power.least_trials(3, 0.05 / 4, rated=False) == 5


def test_a_ballot_of_many_closed_early_decides_nothing() -> None:
    assert judge(record(many_plan(12), [[]])).verdict == "undecided"
    found = judged(many_plan(3), [[dict.fromkeys(WORDS, 1)] * 3] * 2, [(0, 1, 2)] * 2)
    assert (found.reached, found.p_value, found.words[0].p_holm) == (None, None, None)
