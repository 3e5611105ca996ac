"""Three labels of words, the same wherever words are told: a word of each kind planted, and looked for everywhere.

The planted plan is an ABX that is over; A is named to the listener, X is not. One more word was said of X in practice.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path

import pytest

from sessions.casebook import catalogue, session_rows
from sessions.casebook.catalogue import Listener, Setup
from sessions.casebook.store import Casebook
from sessions.chair.kept_words import keep_word
from sessions.listening import session
from sessions.listening.session import Rehearsal
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import overview, seals
from sessions.report import contents, page
from sessions.results import plan_record
from sessions.words import log
from tests.command_line import earwitness
from tests.fakes import SilentPlayer, at_once

HOW = {
    "onx": "in a blind trial",
    "ona": "sighted",  # said in a blind trial, but of A, which is named
    "oldona": "sighted",  # as older casebooks logged it: blind
    "practised": "said to be blind",
    "claimed": "said to be blind",
    "open": "sighted",
}


@pytest.fixture
def planted(sealed: Casebook) -> Path:
    ada, sallow = catalogue.find(sealed, Listener, "Ada"), catalogue.find(sealed, Setup, "sallow")
    with session.begin(sealed, "evening", "Ada", "none: test") as begun:
        runner = TrialRunner(begun, SilentPlayer(), sleep=at_once)
        offered = runner.offer()
        assert offered is not None
        keep_word(runner, ada, "onx", 3, "X", 1000)
        keep_word(runner, ada, "ona", 3, "A", 1000)
        log.log(sealed, ada, log.Word("oldona", 3, blind=True, trial_id=offered.row_id, stimulus="A"))
        while (offered := begun.next_trial()) is not None:
            begun.answer(offered, "A", 2, 900)
    plan = seals.sealed_plan(sealed, "evening").plan
    with session.begin_rehearsal(sealed, plan, ada, Rehearsal("practice", 5), "none: test") as begun:
        runner = TrialRunner(begun, SilentPlayer(), sleep=at_once)
        runner.offer()
        keep_word(runner, ada, "practised", 3, "X", 1000)
    log.log(sealed, ada, log.Word("claimed", 3, blind=True, setup_id=sallow.id))
    log.log(sealed, ada, log.Word("open", 3, setup_id=sallow.id))
    return sealed.folder


def test_the_log_says_blind_of_nothing_that_was_named(planted: Path, sealed: Casebook) -> None:
    blind = {row["term"]: bool(row["blind"]) for row in sealed.query("SELECT term, blind FROM words")}
    assert (blind["onx"], blind["ona"]) == (True, False)


def test_list_and_search_say_so(planted: Path) -> None:
    found = json.loads(earwitness(planted, "word", "list", "--json").stdout)["words"]
    assert {one["term"]: one["how"] for one in found} == HOW
    for term, how in HOW.items():
        for command in (("list",), ("search", term)):
            shown = earwitness(planted, "word", *command).stdout
            (line,) = [each for each in shown.splitlines() if each.startswith(f"{term} ")]
            assert re.findall("in a blind trial|said to be blind|sighted", line) == [how], line
        (one,) = json.loads(earwitness(planted, "word", "search", term, "--json").stdout)["words"]
        assert one["how"] == how


def test_the_summary_counts_them_so(planted: Path) -> None:
    given = json.loads(earwitness(planted, "word", "summary", "--json").stdout)["setups"]
    counted = {
        one["word"]: {how for how, times in one["how"].items() if times} for said in given.values() for one in said
    }
    assert counted == {term: {how} for term, how in HOW.items()}


def test_status_counts_them_so(planted: Path, sealed: Casebook) -> None:
    assert overview.gather(sealed).words == Counter(HOW.values())
    assert "1 in a blind trial, 2 said to be blind, 3 sighted" in earwitness(planted, "status").stdout
    assert json.loads(earwitness(planted, "status", "--json").stdout)["words"] == Counter(HOW.values())


def test_the_report_says_so(planted: Path, sealed: Casebook) -> None:
    report = contents.gather(sealed, "x")
    assert {row.term: row.how for row in report.words} == HOW
    drawn = page.render(report)
    for term, how in HOW.items():
        (row,) = re.findall(rf"<tr><td>{term}</td>.*?</tr>", drawn, flags=re.DOTALL)
        assert f"<td>{how}</td>" in row
        assert "0:01.000" in row or term in ("oldona", "claimed", "open")


def test_once_the_plan_is_over_each_word_of_it_names_its_setup(planted: Path, sealed: Casebook) -> None:
    plan = seals.sealed_plan(sealed, "evening").plan
    labels = plan_record.blind_labels(sealed, plan.id)
    rows = sealed.query("SELECT term, trial_id, stimulus FROM words WHERE trial_id IS NOT NULL")
    heard = {row["term"]: labels[row["trial_id"], row["stimulus"]] for row in rows}
    found = json.loads(earwitness(planted, "word", "list", "--json").stdout)["words"]
    of = {one["term"]: one["of"] for one in found}
    assert of == {term: plan.places[place] for term, place in heard.items()} | {"claimed": "sallow", "open": "sallow"}
    assert session_rows.is_complete(sealed, session_rows.sessions(sealed, plan.id)[0].id)
    shown = json.loads(earwitness(planted, "word", "list", "--setup", of["onx"], "--json").stdout)["words"]
    assert "onx" in {one["term"] for one in shown}
