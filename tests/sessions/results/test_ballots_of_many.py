"""Ballots of more than two setups: by every exchange of labels, over all keys, and from plan to check."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from hashlib import sha256
from itertools import permutations, product
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from numpy.random import PCG64, Generator

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.commands import words as commands_words
from sessions.measured.band_effect import BandEffect
from sessions.plans import planned_test, seals, trial_keys
from sessions.plans.methods.table import METHODS
from sessions.plans.methods.word_ballot import MANY_IN_WORDS, WordBallot
from sessions.plans.plan import Plan
from sessions.report import result_pictures
from sessions.report.svg import LEFT, WIDE
from sessions.results import (
    ballots_over,
    first_lines,
    outcome_sentences,
    review,
    sentences,
    unit_in_ballots,
    words_of_two,
)
from sessions.results.answers import Answer, SessionAnswers
from sessions.results.ballot_outcomes import WordsOfMany
from sessions.results.crosscheck import crosscheck
from sessions.results.pairs_of_many import BallotOfSeveral, pairs_of_many
from sessions.results.plan_record import PlanRecord
from sessions.results.verdict import ANALYSES, HEARD, NOT_SHOWN, Together, Verdict, judge
from sessions.words import lexicon_rows
from sessions.words.lexicon import shipped
from sessions.words.lexicon_changes import Change
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
    book: Casebook, tmp_path: Path, rated: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the same order in each run: in one of twenty an empty word is told apart by chance
    monkeypatch.setattr("secrets.token_bytes", lambda _: sha256(b"three setups").digest())
    monkeypatch.setattr(
        "secrets.randbits", Random(3).getrandbits
    )  # the listener's own identifier, by which the order goes
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
        assert f"; p = {one.verdict.p_value:.6g}; alpha 0.05; by itself: heard" in told
    first, second = first_lines.first_lines(one.verdict)
    assert "was HEARD, in 2 words: bright and boomy" in first
    assert (
        '"bright" was not rated alike (sallow' if rated else '"bright" was not ticked alike (sallow: 100 %'
    ) in second
    assert second.endswith("This is about Ada alone.")
    said = outcome_sentences.numbers(made, found)
    assert "It says that not all got a word alike, and not which differs from which." in said[0]
    assert ("Cochran's Q" in said[1]) is not rated
    over = ballots_over.in_casebook(book)
    assert (over.pairs, over.left_out, [several.plan for several in over.several]) == ((), (), ["evening"])
    two = [catalogue.find(book, Setup, name) for name in SETUPS[:2]]
    words = words_of_two.of_ballots(book, two, shipped()).words
    assert [(word.term, word.ballot) for word in words] == [(word, "evening") for word in WORDS]
    assert words[0].evidence == "heard among several"
    assert over.asked_as == ()
    lexicon_rows.keep(book, [Change("rename", "boomy", "rumbling-like")])
    assert ballots_over.in_casebook(book).asked_as == (ballots_over.AskedAs("evening", "boomy", "rumbling-like"),)
    assert (
        words_of_two.of_ballots(book, two, lexicon_rows.in_force(book)).words[1].name
        == "rumbling-like (asked as boomy)"
    )


class TestPairs:
    """By hand: bright of sallow alone in all of twelve, boomy of the two others; p of each such pair 2/2¹²."""

    IDS = ("setup-0", "setup-1", "setup-2")

    @staticmethod
    def ballot() -> tuple[Verdict, PlanRecord, BallotOfSeveral]:
        made = record(many_plan(12), [["right"] * 12])
        verdict = judge(made)
        found = pairs_of_many(verdict, made, shipped())
        assert found is not None
        return verdict, made, found

    def test_which_two_differ_is_told_by_their_own_exact_test_corrected_over_all_pairs_and_words(self) -> None:
        verdict, _, found = self.ballot()
        assert (found.setups, found.trials, found.listeners) == (("sallow", "bracken", "willow"), 12, ("Ada",))
        assert [one.heard for one in found.words] == [True, True, False, False]
        for word, sides in ((0, [(12, 0), (12, 0), (0, 0)]), (1, [(0, 12), (0, 12), (0, 0)])):
            pairs = found.words[word].pairs
            assert [pair.setups for pair in pairs] == [
                ("sallow", "bracken"), ("sallow", "willow"), ("bracken", "willow"),
            ]  # fmt: skip
            assert [(pair.counts.first_only, pair.counts.second_only) for pair in pairs] == sides
            assert [pair.p_value for pair in pairs] == [2 / 2**12, 2 / 2**12, 1]
            assert [pair.p_holm for pair in pairs] == pytest.approx([12 * 2 / 2**12, 12 * 2 / 2**12, 1])
            assert [pair.differ for pair in pairs] == [True, True, False]
        assert found.words[0].found.p_holm == verdict.outcome.words[0].p_holm  # type: ignore[union-attr]

    def test_no_pair_differs_in_a_word_that_the_verdict_does_not_hold(self) -> None:
        verdict, made, _ = self.ballot()
        found = pairs_of_many(replace(verdict, verdict=NOT_SHOWN), made, shipped())
        assert found is not None
        assert not any(pair.differ for one in found.words for pair in one.pairs)
        closed = record(many_plan(12), [["right"] * 11])
        assert pairs_of_many(judge(closed), closed, shipped()) is None

    def test_what_so_few_trials_could_not_show_of_two_is_said_of_these_two_alone(self) -> None:
        """By hand: of four words and 8 trials the plan's own test has 4 · (1/6)⁷, a pair 12 · 2/2⁸, above 0.05."""
        made = record(many_plan(8), [["right", "wrong"] * 4])
        verdict = judge(made)
        assert verdict.verdict == NOT_SHOWN
        words = words_of_two.of_judged(verdict, made, (self.IDS[0], self.IDS[1]), shipped())
        assert {word.evidence for word in words} == {"too few to show"}
        told = "it was not shown to be heard; so few trials could not have shown it of these two alone, whatever was "
        assert all(told in word.how for word in words)

    def test_crosscheck_tells_two_of_them_as_heard_among_several_and_never_as_heard(self) -> None:
        verdict, made, _ = self.ballot()
        lift = BandEffect(4000, 8000, 2.0, 0.2)
        for two, first in ((self.IDS[:2], True), (self.IDS[1::-1], False)):
            words = words_of_two.of_judged(verdict, made, (two[0], two[1]), shipped())
            bright = words[0]
            assert (bright.term, bright.evidence, bright.first) == ("bright", "heard among several", first)
            assert "computed afterwards" in bright.how
            beside_one = unit_in_ballots.BesideOther("b", bright)
            assert (beside_one.shown, unit_in_ballots.shown("a", [beside_one])) == (False, "")  # as a claim says of it
            assert "heard" not in bright.how
            told = crosscheck([bright], ("a", "b"), shipped(), lambda *_: lift)[0]
            assert told.outcome == f"heard among several{' and' if first else ', not'} measured"
        beside = replace(verdict, together=Together(primary_plans=3, p_holm=1.0, holds=False))
        alone = words_of_two.of_judged(beside, made, (self.IDS[0], self.IDS[1]), shipped())[0]
        assert (alone.evidence, alone.first) == ("enough alone", None)
        assert alone.how.endswith("; heard on its own, but not among the 3 primary questions taken together")
        gone = replace(verdict, verdict=NOT_SHOWN, together=Together(p_same_question=1.0, alone=HEARD))
        bright = words_of_two.of_judged(gone, made, (self.IDS[0], self.IDS[1]), shipped())[0]
        assert (bright.evidence, "taken together with the other plans it is not" in bright.how) == (
            "enough alone",
            True,
        )
        others = words_of_two.of_judged(verdict, made, (self.IDS[1], self.IDS[2]), shipped())
        assert {word.evidence for word in others} == {"not shown"}
        assert "that not all got it alike was heard, and of these two it is not shown" in others[0].how
        assert words_of_two.of_judged(verdict, made, (self.IDS[0], "another"), shipped()) == []

    def test_words_tells_the_sealed_test_and_the_pairs_as_exploratory(self, capsys: pytest.CaptureFixture[str]) -> None:
        _, _, found = self.ballot()
        commands_words._tell_several(found)
        told = capsys.readouterr().out
        assert "sallow, bracken, willow, ticks, in evening (2026-W01): 12 trials of Ada." in told
        rows = {line.split()[0]: line for line in told.splitlines() if line.startswith(("bright", "thin"))}
        assert "12:0 0.0059 differ" in rows["bright"]  # the last table's; 24/4096 by hand
        assert "thin" in rows
        assert "differ" not in rows["thin"]
        assert "24.00" in told  # Cochran's Q of twelve trials of one tick on the same of three: 2 · 12
        assert "These pairs are exploratory" in told
        assert "This is about Ada alone." in told

    def test_the_picture_numbers_each_setup_where_its_share_lies(self) -> None:
        verdict, _, _ = self.ballot()
        (picture,) = result_pictures.of(verdict)
        drawn = picture.draw()
        dots = re.findall(r'<circle[^>]*cx="([\d.]+)" cy="([\d.]+)"', drawn)
        assert len(dots) == 4 * 3
        bright = [float(x) for x, _ in dots[:3]]
        assert sorted(bright) == [LEFT, LEFT, LEFT + WIDE]  # 0 %, 0 % and 100 %
        assert len(set(dots)) == len(dots)  # none hides another
        assert "bright *<" in drawn
        assert "thin<" in drawn
        assert drawn.count('fill="#0b6e6e"') == 6
        assert "Which differ it does not say" in picture.caption


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
    few = " ".join(ballot.planned_in_words(many_plan(4).document))
    assert "no word can be found, not even one ticked of one setup alone in every trial: that begins with 5" in few
    short = " ".join(ballot.planned_in_words(many_plan(5).document))
    again = re.search(r"it is found by about (\d+) % \(simulated, ± (\d+) %\)\.", short)
    assert again is not None
    share, apart = (int(part) / 100 for part in again.groups())
    assert apart == pytest.approx(1.96 * np.sqrt(share * (1 - share) / 600), abs=0.006)  # of as many ballots
    assert "is found where it is ticked of the right one in at least 5 of the 5 trials" in short


def test_a_ballot_of_many_closed_early_decides_nothing() -> None:
    assert judge(record(many_plan(12), [[]])).verdict == "undecided"
    found = judged(many_plan(3), [[dict.fromkeys(WORDS, 1)] * 3] * 2, [(0, 1, 2)] * 2)
    assert (found.reached, found.p_value, found.words[0].p_holm) == (None, None, None)
