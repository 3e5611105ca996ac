"""A correction of a word said in a trial keeps what that was said of, never counts as blind, and leaves a trace."""

from __future__ import annotations

import json

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener
from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.plans import words_in_trials
from sessions.words import log
from sessions.words.blindness import LabelledWord
from tests.answered_plans import answer_all
from tests.command_line import earwitness


def first_trial(book: Casebook) -> dict[str, log.LoggedWord]:
    """What is said of each label in the first of a plan's trials."""
    with session.begin(book, "evening", "Ada", "none: test") as running:
        offered = running.next_trial()
        assert offered is not None
        ada, track_id = catalogue.find(book, Listener, "Ada"), offered.passage.track_id
        return {
            label: log.log(
                book, ada, log.Word("harsh", 4, 1500, trial_id=offered.row_id, stimulus=label, track_id=track_id)
            )
            for label in running.plan.method.stimuli
        }


def corrected(book: Casebook, word: log.LoggedWord, term: str = "smooth") -> LabelledWord:
    done = earwitness(book.folder, "word", "log", term, "--listener", "Ada", "--corrects", word.id)
    assert done.returncode == 0, done.stderr
    return next(one for one in labelled(book) if one.word.corrects == word.id)


def labelled(book: Casebook) -> list[LabelledWord]:
    return words_in_trials.labelled(book, log.words(book))


def test_a_correction_keeps_what_the_trial_hid_and_is_not_said_in_it(sealed: Casebook) -> None:
    said = first_trial(sealed)
    before = corrected(sealed, said["X"])
    assert (before.label, before.setup) == ("said to be blind", None)
    assert before.remark == f"corrects {said['X'].id}, outside of its trial"
    assert (before.word.stimulus, before.word.track, before.word.track_ms) == ("X", said["X"].track, 1500)
    assert corrected(sealed, said["A"]).label == "sighted"
    answer_all(sealed, 1.0)
    told = next(one for one in labelled(sealed) if one.word.id == before.word.id)
    assert told.label == "said to be blind"
    again = corrected(sealed, before.word, "soft")
    assert (again.label, again.setup) == ("sighted", told.setup)
    assert again.setup is not None
    assert again.remark == f"corrects {before.word.id}, after the end of its plan"


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--setup", "sallow"), "was said in a trial, of X: what it was said of stays; leave --setup out"),
        (("--setup", "bracken"), "was said in a trial, of X: what it was said of stays; leave --setup out"),
        (("--listener", "Bo"), "is a word of Ada, said in a trial; give --listener Ada"),
    ],
)
def test_no_correction_gives_it_another_setup_or_listener(
    sealed: Casebook, options: tuple[str, str], says: str, over: bool
) -> None:
    said = first_trial(sealed)
    catalogue.add_listener(sealed, "Bo")
    if over:
        answer_all(sealed, 1.0)
    done = earwitness(sealed.folder, "word", "log", "smooth", "--listener", "Ada", *options, "--corrects", said["X"].id)
    assert done.returncode == 2
    assert " ".join(done.stderr.split()).count(says) == 1
    assert {one.term for one in log.words(sealed)} == {"harsh"}


def test_how_many_were_corrected_and_how_many_too_late_is_told_everywhere(sealed: Casebook) -> None:
    said = first_trial(sealed)
    free = log.log(sealed, catalogue.find(sealed, Listener, "Ada"), log.Word("thin", 2))
    assert "corrected" not in earwitness(sealed.folder, "word", "summary").stdout
    corrected(sealed, free)
    corrected(sealed, said["B"])
    answer_all(sealed, 1.0)
    corrected(sealed, said["X"])
    tells = "3 words were corrected, 2 of them said in a trial, 1 of these after the end of its plan."
    for command in ("summary", "list"):
        assert tells in " ".join(earwitness(sealed.folder, "word", command).stdout.split())
    assert tells in " ".join(earwitness(sealed.folder, "status").stdout.split())
    counts = {"words": 3, "said_in_trials": 2, "after_end": 1, "taken_back": 0}
    assert json.loads(earwitness(sealed.folder, "word", "summary", "--json").stdout)["corrected"] == counts
    assert json.loads(earwitness(sealed.folder, "status", "--json").stdout)["corrected"] == counts
    assert earwitness(sealed.folder, "report").returncode == 0
    page = " ".join((sealed.folder / "report.html").read_text(encoding="utf-8").split())
    assert tells in page
    assert f"<td>sighted; corrects {said['X'].id}, after the end of its plan</td>" in page


def test_words_that_were_corrected_are_listed_where_they_are_asked_for(sealed: Casebook) -> None:
    said = first_trial(sealed)
    answer_all(sealed, 1.0)
    corrected(sealed, said["X"])
    assert said["X"].id not in {one["id"] for one in listed(sealed)}
    shown = {one["id"]: one for one in listed(sealed, "--corrected")}
    assert (shown[said["X"].id]["how"], shown[said["X"].id]["remark"]) == ("in a blind trial", "corrected later")
    assert len(shown) == 4


def test_a_correction_of_before_that_named_a_setup_itself_is_told_too(sealed: Casebook) -> None:
    said = first_trial(sealed)
    answer_all(sealed, 1.0)
    ada, setup = catalogue.find(sealed, Listener, "Ada"), catalogue.everything(sealed, catalogue.Setup)[0]
    sealed.append_many([log.new_word(ada, log.Word("smooth", 3, blind=True, setup_id=setup.id, corrects=said["X"].id))])
    (told,) = [one for one in labelled(sealed) if one.word.corrects]
    assert (told.label, told.remark) == ("sighted", f"corrects {said['X'].id}, after the end of its plan")


def listed(book: Casebook, *options: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = json.loads(earwitness(book.folder, "word", "list", "--json", *options).stdout)[
        "words"
    ]
    return found
