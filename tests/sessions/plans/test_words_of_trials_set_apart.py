"""Words said in a control or a known difference, or of an anchor, are of no setup, and none of them is sighted."""

from __future__ import annotations

import json

import pytest
from numpy.random import PCG64, Generator

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener, Setup
from sessions.casebook.store import Casebook
from sessions.listening import session, simulated_listener
from sessions.plans import overview, words_in_trials
from sessions.report import word_rows, words_heard
from sessions.results import review, words_of_two
from sessions.words import log
from sessions.words.blindness import LabelledWord
from sessions.words.lexicon import shipped
from sessions.words.profile import profile
from sessions.words.summary import summary
from tests.answered_plans import sealed_plan
from tests.command_line import earwitness

APART = {"same", "lifted"}


def described(book: Casebook) -> list[LabelledWord]:
    """Answer a plan; of each label a word is said that tells which kind of trial it was. What is told afterwards."""
    rng = Generator(PCG64(3))
    with session.begin(book, "evening", "Ada", "none: test") as running:
        ada, plan = catalogue.find(book, Listener, "Ada"), running.plan
        while (offered := running.next_trial()) is not None:
            assert not any(one.apart for one in labelled(book))  # not before its end
            key = offered.key
            term = "same" if plan.is_control(key) else "lifted" if plan.is_known(key) else "bright"
            for label in plan.method.stimuli:
                running.audition(offered, label, 0, 48_000)
                said = log.Word(term, 3, trial_id=offered.row_id, stimulus=label, track_id=offered.passage.track_id)
                log.log(book, ada, said)
            running.answer(offered, simulated_listener.answer_to(plan, key, True, rng), 3, 4000)
    return labelled(book)


def labelled(book: Casebook) -> list[LabelledWord]:
    return words_in_trials.labelled(book, log.words(book))


@pytest.mark.parametrize("method", ["abx", "hidden-reference"])
def test_what_was_said_in_trials_set_apart_is_never_sighted_and_of_no_setup(casebook: Casebook, method: str) -> None:
    sealed_plan(casebook, method=method, trials=3, controls=3, known=1, step_db="-1")
    words = described(casebook)
    apart = [one for one in words if one.word.term in APART]
    assert len(apart) == 4 * 3
    assert {(one.label, one.setup, one.setup_id) for one in apart} == {("in a blind trial", None, None)}
    assert {one.of for one in apart} >= {
        "sallow, in a trial of the known difference",
        "sallow with a level step of 1 dB down, in a trial of the known difference",
    }
    assert {one.of for one in apart if one.word.term == "same"} <= {
        "sallow, in a control trial",
        "bracken, in a control trial",
    }
    counted = {(one.word.stimulus, one.label, one.setup) for one in words if one not in apart}
    named = (
        {("A", "sighted", "sallow"), ("B", "sighted", "bracken")} if method == "abx" else {("R", "sighted", "sallow")}
    )
    assert {one for one in counted if one[1] == "sighted"} == named


def test_trials_set_apart_count_in_no_table_profile_crosscheck_or_picture(casebook: Casebook) -> None:
    sealed_plan(casebook, method="abx", trials=3, controls=3, known=1, step_db="-1")
    words, lexicon = described(casebook), shipped()
    setups = catalogue.everything(casebook, Setup)
    headings = summary(words).setups
    assert {one.term for setup in setups for one in headings[setup.name]} == {"bright"}
    assert {one.term for said in summary(words).tracks.values() for one in said} == {"bright"}
    for setup in setups:
        found = profile(words, setup.id, setup.name, lexicon)
        assert ({one.word for one in found.used}, found.others) == ({"bright"}, 1)
    assert {one.term for one in words_of_two.said_of(casebook, setups, lexicon)} == {"bright"}
    rows = word_rows.gather(casebook, [one.record for one in review.review(casebook).plans])
    heard = words_heard.words_heard(rows, {setup.id: setup.name for setup in setups}, (20, 20_000))
    assert not APART & {one.term for one in heard.without_band}
    said = {
        one["term"]: one for one in json.loads(earwitness(casebook.folder, "word", "list", "--json").stdout)["words"]
    }
    assert said["same"]["of"] is None
    assert said["same"]["apart"].endswith(", in a control trial")
    assert overview.gather(casebook).words_apart == 4 * 3
    assert "12 of them in a control trial or one of a known difference" in earwitness(casebook.folder, "status").stdout


def test_an_anchor_is_no_setup_to_set_words_against(casebook: Casebook) -> None:
    sealed_plan(casebook, method="multi-stimulus", trials=2, setups=("sallow", "bracken"))
    words, lexicon = described(casebook), shipped()
    setups = catalogue.everything(casebook, Setup)
    anchors = [one for one in words if one.setup not in {setup.name for setup in setups}]
    assert {(one.of, one.setup_id, one.label) for one in anchors} == {
        ("anchor 3.5 kHz", None, "in a blind trial"), ("anchor 7 kHz", None, "in a blind trial"),
    }  # fmt: skip
    found = profile(words, setups[0].id, setups[0].name, lexicon)
    assert found.others == 1
    assert found.used[0].elsewhere == 1
    assert "anchor 7 kHz" in summary(words).setups
