"""The report about one unit, or several side by side: the answer first, its evidence, the fine print at the end."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_records, fact_rows
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.report import downloads, unit_review
from sessions.report.claims import claim_rows, judged_claims, typed_evidence
from sessions.report.claims.claim_rows import ClaimContent
from sessions.results import review
from sessions.results.verdict import GIVEN_UP, Together, Verdict, judge
from sessions.words import lexicon_rows, log
from sessions.words.lexicon_changes import Change
from stats.count_summary import NOT_SHOWN
from tests.answered_plans import answer_all, sealed_plan
from tests.command_line import earwitness
from tests.records import RIGHT, plan, record
from tests.sessions.measured.measured_files import HZ
from tests.sessions.report.test_report import cut_off
from tests.sessions.report.test_report_for_people import Node, read


@pytest.fixture
def reviewed(book: Casebook) -> Casebook:
    """Three setups: the first two compared and heard, the other two sealed; facts, curves, words and claims."""
    sealed_plan(book, "evening", method="abx", trials=8)
    sealed_plan(book, "morning", method="abx", trials=8, setups=("bracken", "sallow-late"))
    answer_all(book, 1.0)
    setups = {one.name: one for one in catalogue.everything(book, Setup)}
    for name, ohm in (("sallow", 5.0), ("bracken", 7.0)):
        level_db = 84.0 - np.maximum(12.0 * np.log2(60.0 / HZ), 0.0)  # 12 dB an octave below 60 Hz
        new = [
            NewCurve("response", ON_AXIS, np.column_stack([HZ, level_db]), Conditions(2.0, 2.83, spl=True)),
            NewCurve("impedance", ON_AXIS, np.column_stack([HZ, np.full(len(HZ), ohm)]), Conditions()),
        ]
        curve_records.keep(book, setups[name], [(RawFile.of(f"{name}.txt", name.encode()), new)])
    fact_rows.keep(book, setups["sallow"], "nominal impedance", "8 ohm", "the sheet <of May>")
    fact_rows.keep(book, setups["sallow"], "minimum impedance", "5 ohm", "the sheet")
    ada = catalogue.listener_named(book, "Ada")
    log.log(book, ada, log.Word("airy", 3, setup_id=setups["sallow"].id))
    log.log(book, ada, log.Word("boomy", 3, setup_id=setups["sallow-late"].id))
    for text, evidence in (("I heard it.", "evening"), ("It was not shown that I heard it.", "morning:not-shown")):
        claim_rows.keep(book, text, ClaimContent(plans=(typed_evidence.plan(book, evidence),)))
    return book


def page(book: Casebook, *about: str) -> tuple[str, Node]:
    file = book.folder / "made.html"
    done = earwitness(book.folder, "report", *about, "--out", str(file))
    assert done.returncode == 0, done.stderr
    text = file.read_text(encoding="utf-8")
    return text, read(text)


def headings(root: Node) -> list[str]:
    return [one.text() for one in root.find("h2")]


def test_the_review_of_a_unit_answers_first_and_ends_with_the_fine_print(reviewed: Casebook) -> None:
    text, root = page(reviewed, "--unit", "sallow")
    assert headings(root) == [
        "In short",
        "At a glance",
        "What the maker states, and what was measured",
        "evening",
        "How the levels were matched",
        "What was measured",
        "Words",
        "What is claimed",
        "The fine print",
        "What could not be shown",
        "The record",
    ]
    [answer] = root.find("div", "answer")
    heard, measured, *others = [one.text() for one in answer.find("p")]
    assert heard == "1 blind comparison of sallow: 1 heard."
    # 84 dB at 2 m for 2.83 V is 6 dB more at 1 m; half an octave below 60 Hz lies 42.4 Hz; 5 ohm throughout
    sensitivity, end, least = measured.split("; ")
    assert sensitivity == "Measured of sallow: 90.0 dB SPL for 2.83 V at 1 m"
    assert least == "at least 5.0 ohm, at 20 Hz."
    found = re.fullmatch(r"6 dB below its mean at (\d+) Hz", end)
    assert found is not None, measured
    assert float(found[1]) == pytest.approx(42.4, abs=2.0)
    assert others == [
        "Of what the maker of sallow states, beside what was measured: minimum impedance agrees; nominal impedance "
        "does not agree.",
        "Said most of sallow: airy (outside of any track, never in a blind trial).",
        "Of 1 sentence that the reviewer wants to say: 1 shown.",
    ]
    [glance] = root.find("table", "glance")
    curves = [one.id for one in curve_records.listed(reviewed) if one.setup == "sallow"]
    assert len(curves) == 2
    assert all(one in glance.text() for one in curves)
    assert "bracken: heard (evening)" in glance.text()
    assert text.index("Fixed 20") > text.index("The fine print")
    assert text.count("How it was sealed") == 1
    assert "morning" not in text.replace("good morning", "")  # a plan without this unit
    assert "<td>boomy</td>" not in text
    assert "the sheet &lt;of May&gt;" in text


def test_what_blind_ballots_got_of_a_unit_stands_beside_what_was_said_of_it(casebook: Casebook) -> None:
    sealed_plan(casebook, method="words", trials=12, words=("bright", "boomy", "thin", "wide"))
    ada = catalogue.listener_named(casebook, "Ada")
    setups = {one.name: one for one in catalogue.everything(casebook, Setup)}
    for name, word in (("sallow", "bright"), ("sallow", "wide"), ("sallow", "airy"), ("bracken", "bright")):
        log.log(casebook, ada, log.Word(word, 3, setup_id=setups[name].id))

    def answer(name: str) -> list[str]:
        plans = review.review(casebook).plans
        verdicts = [one.verdict for one in plans]
        return list(unit_review.gather(casebook, [setups[name]], verdicts, [], ballots=plans).answer)

    never = "outside of any track, never in a blind trial"
    assert f"Said most of bracken: bright ({never})." in answer("bracken")  # nothing is told of one that runs
    answer_all(casebook, 1.0)  # who hears all of it ticks the first word of the first setup alone, each time
    said, shown = answer("sallow")[-2:]
    first, second, third = re.findall(r"(\w+) \(outside of any track, ([^)]+)\)", said)
    assert first == ("airy", "never in a blind trial")  # which no ballot asked for
    assert second[0] == "wide"  # ticked by chance
    assert re.fullmatch(r"ticked in \d+ of 12 trials of blind ballots", second[1])
    assert third == ("bright", "ticked in 12 of 12 trials of blind ballots")
    assert shown == "Blind ballots showed of sallow: bright rather than of bracken (Ada)."
    other = "Said most of bracken: bright (outside of any track, ticked in 0 of 12 trials of blind ballots)."
    assert other in answer("bracken")
    lexicon_rows.keep(casebook, [Change("merge", "wide", "bright")])  # both are on the ballot: still 12 trials
    assert "bright (outside of any track, ticked in 12 of 12 trials of blind ballots)" in answer("sallow")[-2]


def test_how_many_sentences_say_more_than_their_evidence_is_told_beside_how_many_are_shown(reviewed: Casebook) -> None:
    plan_evidence = ClaimContent(plans=(typed_evidence.plan(reviewed, "evening"),))
    claim_rows.keep(reviewed, "Everybody hears it.", plan_evidence)
    found = unit_review.gather(
        reviewed, [catalogue.find(reviewed, Setup, "sallow")], [], judged_claims.every(reviewed)
    ).answer[-1]
    assert "2 shown (1 of them says more than its evidence)" in found


def test_units_side_by_side_share_a_table_a_picture_and_the_plans_between_them(reviewed: Casebook) -> None:
    text, root = page(reviewed, "--compare", "sallow", "bracken", "sallow-late")
    assert "<title>sallow, bracken and sallow-late, side by side</title>" in text
    [glance] = root.find("table", "glance")
    rows = {row.find("td")[0].text(): [cell.text() for cell in row.find("td")[1:]] for row in glance.find("tr")[1:]}
    assert rows["least impedance"] == ["at least 5.0 ohm, at 20 Hz", "at least 7.0 ohm, at 20 Hz", ""]
    assert rows["heard blind"] == [
        "bracken: heard (evening)",
        "sallow: heard (evening); sallow-late: not begun (morning)",
        "bracken: not begun (morning)",
    ]
    assert rows["nominal impedance, as stated"] == ["8 ohm: does not agree", "", ""]
    [answer] = root.find("div", "answer")
    first = answer.find("p")[0].text()
    assert first == "2 blind comparisons among sallow, bracken and sallow-late: 1 heard, 1 not over."
    assert "On axis, all: sallow and bracken." in text
    assert text.count("<svg ") == text.count("</svg>")
    only_two, _ = page(reviewed, "--compare", "sallow", "sallow-late")
    assert "sallow and sallow-late were not compared blind." in only_two
    assert "How it was sealed" not in only_two


def test_every_pair_of_several_units_is_told_in_the_table_where_the_sentences_end(book: Casebook) -> None:
    """Four units, six pairs: each gives 2 dB more in the treble than the one before, as it was made to."""
    names = ["one", "two", "three", "four"]
    for place, name in enumerate(names):
        level_db = 84.0 + 2.0 * place * (HZ > 5000.0)
        own = NewCurve("response", ON_AXIS, np.column_stack([HZ, level_db]), Conditions(2.0, 2.83, spl=True))
        setup = catalogue.add_setup(book, name)
        curve_records.keep(book, setup, [(RawFile.of(f"{name}.txt", name.encode()), [own])])
    made = unit_review.gather(book, [catalogue.find(book, Setup, name) for name in names], [], [])
    assert len([one for one in made.answer if one.startswith("Measured on axis")]) == 3
    assert "Told so: 3 of 6 pairs; all stand in the table below, in the line on axis, beside the others." in made.answer
    [cells] = [row.cells for row in made.rows if row.what == "on axis, beside the others"]
    for place, name in enumerate(names):
        told_of = dict(part.split(": ") for part in cells[place].split("; "))
        assert list(told_of) == [other for other in names if other != name]
        for other, said in told_of.items():
            apart_db = 2.0 * (place - names.index(other))
            found = re.fullmatch(r"(\d\.\d) dB (more|less) at (\d+) Hz", said)
            assert found, said
            assert (float(found[1]), found[2]) == (abs(apart_db), "more" if apart_db > 0 else "less")
            assert float(found[3]) > 5000


def test_a_report_of_everything_keeps_its_order_and_shows_what_is_claimed(reviewed: Casebook) -> None:
    text, root = page(reviewed)
    assert headings(root)[:3] == ["In short", "evening", "morning"]
    assert text.count("How it was sealed") == 2
    claims = [one.text() for one in root.find("div", "claim")]
    assert [one.split(".")[0] for one in claims] == ["SHOWN I heard it", "NOT SHOWN It was not shown that I heard it"]
    assert "it has no verdict (not begun)" in claims[1]


def test_what_the_report_is_about_is_said_plainly_or_refused(reviewed: Casebook) -> None:
    book = reviewed.folder
    for about, why in (
        (("sallow",), "say --unit sallow for the review of one"),
        (("--compare", "sallow"), "--compare sets two units and more side by side"),
        (("--compare", "sallow", "sallow"), "--compare sets two units and more side by side"),
        (("--unit", "salow"), "did you mean 'sallow'"),
    ):
        done = earwitness(book, "report", *about)
        assert done.returncode == 2
        assert why in done.stderr
    assert earwitness(book, "report", "--unit", "sallow-late").returncode == 0
    text = (book / "report-sallow-late.html").read_text(encoding="utf-8")
    assert "Of sallow-late nothing was measured that is told in numbers here." in text
    assert "1 blind comparison of sallow-late is sealed and not over: nothing is told yet." in text


def test_what_is_heard_on_its_own_alone_is_not_counted_as_heard(reviewed: Casebook) -> None:
    heard = judge(record(plan("abx", 10), [[RIGHT] * 10]))
    alone = replace(heard, together=Together(primary_plans=2, p_holm=0.06, holds=False))
    missed = replace(alone, verdict=NOT_SHOWN)
    sallow = catalogue.find(reviewed, Setup, "sallow")
    found = unit_review.gather(reviewed, [sallow], [heard, alone, missed], [])
    assert found.answer[0] == (
        "3 blind comparisons of sallow: 1 heard, 1 heard on its own, but not among the primary questions taken "
        "together and 1 not shown."
    )


def test_what_is_exploratory_or_given_up_is_called_so_and_not_counted_with_the_others(reviewed: Casebook) -> None:
    heard = judge(record(plan("abx", 10), [[RIGHT] * 10]))
    aside = replace(heard, plan=replace(heard.plan, document={**heard.plan.document, "primary": False}))
    lost = replace(heard, verdict=None, outcome=None, state=GIVEN_UP)
    sallow = catalogue.find(reviewed, Setup, "sallow")

    def first(*verdicts: Verdict) -> str:
        return unit_review.gather(reviewed, [sallow], verdicts, []).answer[0]

    assert first(heard, aside, lost) == (
        "3 blind comparisons of sallow: 1 heard and 1 heard (exploratory), 1 given up."
    )
    assert first(lost) == "1 blind comparison of sallow: 1 given up."
    made = replace(sallow, id="setup-0")
    [row] = [one for one in unit_review.gather(reviewed, [made], [aside], []).rows if one.what == "heard blind"]
    assert row.cells == ["bracken: heard (exploratory) (evening)"]


def test_what_lies_between_two_others_of_several_is_not_counted_as_heard_of_a_unit(reviewed: Casebook) -> None:
    of_two = judge(record(plan("abx", 10), [[RIGHT] * 10]))
    names = ("sallow", "bracken", "willow")
    stated = {"setups": [{"setup": f"setup-{place}", "name": name} for place, name in enumerate(names)]}
    several = replace(of_two, plan=plan("abx", 10, stated=stated))  # that not all are alike: of which two?
    sallow = catalogue.find(reviewed, Setup, "sallow")
    units = [replace(sallow, id=one["setup"], name=one["name"]) for one in stated["setups"]]

    def found(*of: Setup) -> unit_review.UnitReview:
        return unit_review.gather(reviewed, of, [of_two, several], [])

    assert found(units[2]).answer[0] == "2 blind comparisons of willow: 1 heard and 1 heard among several."
    assert found(*units[:2]).answer[0].endswith(": 1 heard and 1 heard among several.")
    assert found(*units).answer[0].endswith(": 2 heard.")  # of all of them together that is said
    [row] = [one for one in found(units[2]).rows if one.what == "heard blind"]
    assert row.cells == ["sallow and bracken: heard among several (evening)"]


def test_a_preference_that_was_shown_is_not_counted_as_heard(reviewed: Casebook) -> None:
    heard = judge(record(plan("abx", 10), [[RIGHT] * 10]))
    shown = judge(record(plan("preference", 10), [[RIGHT] * 10]))
    alone = replace(shown, together=Together(primary_plans=2, p_holm=0.06, holds=False))
    made = replace(catalogue.find(reviewed, Setup, "sallow"), id="setup-0")
    found = unit_review.gather(reviewed, [made], [heard, shown, alone], [])
    assert found.answer[0] == (
        "3 blind comparisons of sallow: 1 heard, 1 preference shown and 1 preference shown on its own, but not among "
        "the primary questions taken together."
    )
    [row] = [one for one in found.rows if one.what == "heard blind"]
    assert row.cells[0].startswith("bracken: heard (evening); bracken: sallow preferred (evening); ")


def test_records_that_would_make_a_page_too_large_stay_out_of_it_and_how_to_get_them_is_said(
    reviewed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Both files are in this page" in page(reviewed)[0]
    monkeypatch.setattr(downloads, "MOST_BYTES", 0)
    text, _ = page(reviewed)
    assert "Both files are in this page" not in text
    assert "earwitness verify --record evening</code>" in text


@pytest.mark.browser
def test_nothing_of_three_units_is_cut_off_on_a_phone(reviewed: Casebook) -> None:
    page(reviewed, "--compare", "sallow", "bracken", "sallow-late")
    assert cut_off(Path(reviewed.folder / "made.html"), 390) == []
