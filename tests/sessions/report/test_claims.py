"""Claims: what each sentence comes to by the data, what changes are told, which words say too much, what is given out.

The curves are made here: 4 dB more from 40 to 180 Hz of the first setup and nothing else, so that what bands hold is
known.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Setup, Track
from sessions.casebook.spreadsheet_text import unguarded
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.errors import CatalogueError
from sessions.measured import curve_records, fact_rows
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.plans import seals
from sessions.report.claims import (
    claim_rows,
    given_out,
    judged_claims,
    sheet,
    timed_notes,
    typed_evidence,
    unborne,
    wording,
)
from sessions.report.claims.claim_rows import Claim, ClaimContent, PlanSays, Standing
from sessions.report.claims.standing import JudgedClaim, Part
from sessions.report.claims.wording import APPLIES, Bearing
from sessions.results.verdict import VOID, Together, judge
from sessions.viewers import captions
from sessions.viewers.soundtrack import Cue
from sessions.words import lexicon, log
from tests.answered_plans import PAIR, answer_all, answer_trials, sealed_plan
from tests.casebooks import chain_holds
from tests.command_line import earwitness
from tests.records import RIGHT, plan, record
from tests.sessions.measured.measured_files import HZ

MORE_DB = 4.0
PLAINLY = Bearing(frozenset({"Ada", "Bo"}), blind_test=True, preference_test=True, measured=True)


@pytest.fixture(scope="module")
def described_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two setups with a curve each, the first with more in the bass, and a word said sighted of the first."""
    folder = tmp_path_factory.mktemp("described") / "book"
    with create(folder) as book:
        for name, more_db in (("sallow", MORE_DB), ("bracken", 0.0)):
            setup = catalogue.add_setup(book, name)
            level_db = 80 + np.where((HZ >= 40) & (HZ <= 180), more_db, 0.0)
            new = NewCurve("response", ON_AXIS, np.column_stack([HZ, level_db]), Conditions())
            curve_records.keep(book, setup, [(RawFile.of(f"{name}.txt", name.encode()), [new])])
        ada, drums = catalogue.listener_named(book, "Ada"), catalogue.keep(book, catalogue.new_track(book, "drums"))
        sallow = catalogue.find(book, Setup, "sallow")
        log.log(book, ada, log.Word("boomy", 3, 8_000, setup_id=sallow.id, track_id=drums.id))
    return folder


@pytest.fixture
def described(described_once: Path, tmp_path: Path) -> Iterator[Casebook]:
    """A copy of it, open."""
    shutil.copytree(described_once, tmp_path / "book")
    with open_casebook(tmp_path / "book") as book:
        yield book


def claimed(book: Casebook, text: str = "So it is.", **typed: str) -> Claim:
    """A claim with evidence as it is typed: plan, word, curve, fact."""
    found = {f"{kind}s": (getattr(typed_evidence, kind)(book, said),) for kind, said in typed.items()}
    return claim_rows.keep(book, text, ClaimContent(**found))


def judged(book: Casebook, claim: Claim) -> JudgedClaim:
    return judged_claims.of(book, [claim_rows.find(book, claim.id)])[0]


def comes_to(book: Casebook, **typed: str) -> Standing:
    return judged(book, claimed(book, **typed)).standing


def test_a_claim_on_a_plan_is_what_its_verdict_bears_and_before_its_end_nothing_is_told(sealed: Casebook) -> None:
    heard, not_shown = claimed(sealed, plan="evening"), claimed(sealed, plan="evening:not-shown")
    answer_all(sealed, 1.0, most=7)
    for one in (heard, not_shown):
        found = judged(sealed, one)
        assert (found.standing, found.times) == ("not shown", [])
        assert found.parts[0].said == "it has no verdict (running)"
    given_out.note(sealed, judged_claims.every(sealed))
    answer_all(sealed, 1.0)
    first, second = judged(sealed, heard), judged(sealed, not_shown)
    assert (first.standing, second.standing) == ("shown", "contradicted")
    assert first.parts[0].listeners == ("Ada",)
    assert first.parts[0].said.startswith("sallow against bracken: a difference was HEARD; 8 of 8 trials were answered")
    assert not first.parts[0].said.endswith(".")
    assert first.changed[0].startswith("it was not shown when it was given out last (20")
    assert first.changed[0].endswith("and is shown now")
    assert {(time.track, time.from_ms, time.to_ms) for time in first.times} == {
        ("drums", 0, 4000),
        ("strings", 0, 4000),
    }
    given_out.note(sealed, judged_claims.every(sealed))
    assert judged(sealed, heard).changed == ()
    assert chain_holds(sealed)


def test_a_plan_that_was_not_shown_shows_no_more_than_that_and_one_stopped_early_nothing(casebook: Casebook) -> None:
    for name in ("evening", "morning"):
        sealed_plan(casebook, name, method="abx", trials=8)
    answer_trials(casebook, 4, 4)
    answer_trials(casebook, 2, 0, plan="morning")
    seals.close(casebook, "morning", "the pair went back")
    assert comes_to(casebook, plan="evening") == "not shown"
    assert comes_to(casebook, plan="evening:not-shown") == "shown"
    assert comes_to(casebook, plan="morning") == comes_to(casebook, plan="morning:not-shown") == "not shown"
    same = judged(casebook, claimed(casebook, "They sound as one.", plan="evening:not-shown"))
    assert (same.told, same.overstated[0].words) == ("shown, but the sentence says more", "")
    assert same.overstated[0].gentler == "in this test it was not shown that Ada heard a difference"
    with pytest.raises(CatalogueError, match="asked whether a difference is heard, and not which setup is preferred"):
        claimed(casebook, plan="evening:sallow")


def test_what_is_heard_on_its_own_and_not_with_the_other_questions_bears_no_claim() -> None:
    heard = judge(record(plan("abx", 10), [[RIGHT] * 10]))
    alone = replace(heard, together=Together(primary_plans=2, p_holm=0.06, holds=False))
    void = replace(heard, verdict=VOID, void_reasons=["x"])
    for says in (claim_rows.HEARD, claim_rows.NOT_SHOWN):
        standings = [judged_claims._of_verdict(one, PlanSays("p", says))[0] for one in (heard, alone, void)]
        assert standings == ["shown" if says == claim_rows.HEARD else "contradicted", "not shown", "not shown"]


def test_a_plan_that_no_answers_could_have_passed_bears_not_even_that_it_was_not_shown(book: Casebook) -> None:
    """Four right of four come up by guessing in 1 of 16 tests, and five of five in 1 of 32."""
    for name, trials, setups in (("short", 4, PAIR), ("enough", 5, ("bracken", "sallow-late"))):
        sealed_plan(book, name, method="abx", trials=trials, setups=setups)
        answer_trials(book, trials - 1, 1, plan=name)
    assert comes_to(book, plan="short:not-shown") == "not shown"
    assert comes_to(book, plan="enough:not-shown") == "shown"


def test_a_setup_or_listener_that_the_evidence_is_not_about_is_marked(book: Casebook) -> None:
    catalogue.add_listener(book, "Joss")
    sealed_plan(book, "evening", method="abx", trials=8)
    answer_all(book, 1.0)
    about = "the evidence is about bracken and sallow, heard by Ada"
    for text, words in (
        ("Ada heard sallow from bracken.", []),
        ("Sallow-late was heard against bracken.", ["Sallow-late"]),
        ("Joss and Ada heard it of sallow-late and sallow.", ["sallow-late", "Joss"]),
    ):
        found = judged(book, claimed(book, text, plan="evening"))
        assert [(mark.words, mark.reason) for mark in found.overstated] == [(word, about) for word in words]


def test_what_exploratory_plans_bear_is_called_so_wherever_it_goes(casebook: Casebook) -> None:
    sealed_plan(casebook, "evening", method="abx", trials=8, exploratory=True)
    answer_all(casebook, 1.0)
    found = judged(casebook, claimed(casebook, "Ada heard it.", plan="evening"))
    assert (found.standing, found.told) == ("shown", "shown, exploratory")
    assert found.parts[0].told.startswith("plan evening (exploratory, none of the primary questions): shown: ")
    [line] = sheet.sheet("x", "2026-05-01T00:00:00.000Z", [found]).lines
    assert (line.told, "exploratory" in line.advice) == ("shown, exploratory", True)
    assert "shown, exploratory" in timed_notes.webvtt([replace(found, claim=claim_of(1, "x", 1_000).claim)])


def test_a_preference_is_shown_for_the_setup_that_was_chosen_and_contradicted_for_the_other(casebook: Casebook) -> None:
    sealed_plan(casebook, method="preference", trials=10)
    answer_all(casebook, 1.0)
    own = {name: judged(casebook, claimed(casebook, plan=f"evening:{name}")) for name in ("sallow", "bracken")}
    preferred = "sallow" if "Ada preferred sallow" in own["sallow"].parts[0].said else "bracken"
    other = "bracken" if preferred == "sallow" else "sallow"
    assert f"a preference was SHOWN: Ada preferred {preferred} to {other} in 10 of 10" in own[preferred].parts[0].said
    assert (own[preferred].standing, own[other].standing) == ("shown", "contradicted")


def test_a_word_is_shown_by_a_ballot_alone_and_the_other_way_round_contradicted(casebook: Casebook) -> None:
    sealed_plan(casebook, method="words", trials=12, words=("bright", "boomy", "thin", "wide"))
    answer_all(casebook, 1.0)
    assert comes_to(casebook, word="sallow,bracken:bright") == "shown"
    assert comes_to(casebook, word="bracken,sallow:bright") == "contradicted"
    assert comes_to(casebook, word="sallow,bracken:wide") == "not shown"
    assert comes_to(casebook, word="sallow,bracken:airy") == "not shown"  # nobody asked for it, and nobody said it
    found = judged(casebook, claimed(casebook, "Brighter.", plan="evening", word="sallow,bracken:bright"))
    assert [part.standing for part in found.parts] == ["shown", "shown"]
    assert comes_to(casebook, word="sallow:bright") == "shown"
    assert comes_to(casebook, word="bracken:bright") == "contradicted"
    assert comes_to(casebook, word="sallow:airy") == "not shown"
    [part] = judged(casebook, claimed(casebook, "Bright.", word="sallow:bright")).parts
    assert part.said.startswith("beside bracken: in the ballot evening, ticked of sallow alone in 12, ")
    assert part.listeners == ("Ada",)  # so that a sentence about "listeners" is marked
    log.log(
        casebook,
        catalogue.listener_named(casebook, "Ada"),
        log.Word("wide", 3, setup_id=catalogue.find(casebook, Setup, "sallow").id),
    )
    [part] = judged(casebook, claimed(casebook, "Wide.", word="sallow:wide")).parts
    assert part.standing == "not shown"
    assert re.search(r"ticked of sallow alone in \d+, of bracken alone in \d+ of 12 trials, Holm p = ", part.said)
    assert part.said.endswith("; said outside of any track (sighted 1) by Ada")
    for sentence in ("To me sallow is wide.", "I find sallow wide.", "In my opinion it is wide."):
        [part] = (found := judged(casebook, claimed(casebook, sentence, word="sallow:wide"))).parts
        assert found.standing == "opinion", sentence
        assert part.said.startswith("an impression, said outside of any track (sighted 1) by Ada; no ballot shows it: ")
    for sentence in ("Not only to me sallow is wide.", "Ada found sallow wide."):
        assert judged(casebook, claimed(casebook, sentence, word="sallow:wide")).standing == "not shown", sentence
    blind = judged(casebook, claimed(casebook, "Blind, it was wide to me.", word="sallow,bracken:wide"))
    assert (blind.standing, [mark.words for mark in blind.overstated]) == ("opinion", ["Blind"])
    for word in ("bracken:bright", "sallow:thin"):  # contradicted by a ballot; nobody said it
        assert judged(casebook, claimed(casebook, "To me it is.", word=word)).standing in ("contradicted", "not shown")


def test_what_was_said_sighted_is_an_opinion_with_its_place_and_its_taking_back_changes_it(described: Casebook) -> None:
    [word] = log.words(described)
    for typed in ("sallow:boomy", "sallow,bracken:boomy", word.id):
        found = judged(described, claimed(described, "It sounds boomy.", word=typed))
        assert found.standing == "opinion"
        assert [(time.track, time.from_ms) for time in found.times] == [("drums", 8000)]
        assert [mark.words for mark in found.overstated] == ["sounds"]
    one = claim_rows.everything(described)[-1]
    given_out.note(described, judged_claims.every(described))
    ada = catalogue.listener_named(described, "Ada")
    described.append_many([log.new_taking_back(ada, word.id, 3)])
    found = judged(described, one)
    assert found.standing == "not shown"
    assert any("taken back since" in line for line in found.changed)
    assert comes_to(described, word="bracken:boomy") == "not shown"


@pytest.mark.parametrize(
    ("typed", "standing"),
    [
        ("sallow,bracken:more:60-120", "shown"),
        ("bracken,sallow:less:60-120:3", "shown"),
        ("sallow,bracken:more:60-120:3.9", "not shown"),  # 4 dB with 0.5 dB taken for their uncertainty
        ("sallow,bracken:more:60-120:5", "contradicted"),
        ("bracken,sallow:more:60-120", "contradicted"),
        ("sallow,bracken:less:1000-2000", "not shown"),
        ("sallow:more:60-120:3", "shown"),
        ("bracken:more:60-120", "not shown"),
    ],
)
def test_a_band_of_curves_bears_what_was_planted_in_it_and_no_more(
    described: Casebook, typed: str, standing: Standing
) -> None:
    found = judged(described, claimed(described, curve=typed))
    assert found.standing == standing, found.parts
    if typed.startswith(("sallow,bracken:more", "sallow:more")):
        assert "sallow gives 4.0 dB more" in found.parts[0].said
    louder = judged(described, claimed(described, "There it is louder.", curve=typed))
    assert [mark.words for mark in louder.overstated] == ["louder"]
    if "," in typed:
        assert "compared in shape, against what most of the range has" in found.parts[0].said


def laid(book: Casebook, first_db: np.ndarray, conditions: Conditions) -> None:
    """Two setups with a curve each, the second flat."""
    for name, level_db in (("upper", first_db), ("lower", np.zeros(len(HZ)))):
        setup = catalogue.add_setup(book, name)
        new = NewCurve("response", ON_AXIS, np.column_stack([HZ, 80 + level_db]), conditions)
        curve_records.keep(book, setup, [(RawFile.of(f"{name}.txt", name.encode()), [new])])


def test_curves_bear_only_what_holds_wherever_they_are_laid_level(described: Casebook) -> None:
    """Of 100 Hz to 10 kHz 4 octaves of 6.6 lie 1 dB lower; from 300 to 3000 Hz it is 0.68 of 3.32: 0.2 dB."""
    laid(described, np.where((HZ < 400) | (HZ > 2500), -1.0, 0.0), Conditions())
    one = judged(described, claimed(described, curve="upper,lower:more:700-1400"))
    assert one.standing == "not shown"
    assert re.search(
        r"hangs on where the curves are laid level: upper gives 0\.2 dB more .* 1\.0 dB more", one.parts[0].said
    )
    assert comes_to(described, curve="upper,lower:more:700-1400:1.6") == "contradicted"
    assert comes_to(described, curve="upper,lower:more:700-1400:1.2") == "not shown"  # contradicted by the figure alone
    assert comes_to(described, curve="upper:more:700-1400") == "not shown"  # of one curve alike
    ids = {one.setup: one.id for one in curve_records.listed(described)}
    assert comes_to(described, curve=f"{ids['upper']},{ids['lower']}:more:700-1400") == "not shown"


@pytest.mark.parametrize(("spl", "standing"), [(False, "shown"), (True, "not shown")])
def test_levels_that_are_known_to_be_comparable_count_as_they_were_measured(
    described: Casebook, spl: bool, standing: Standing
) -> None:
    """The first has 2 dB more in an octave than beside it, and plays 2 dB softer: as much as the other there."""
    softer_db = np.where((HZ > 3500) & (HZ < 9000), 0.0, -2.0)
    laid(described, softer_db, Conditions(distance_m=1.0, drive_volts=2.83, spl=spl))
    found = judged(described, claimed(described, curve="upper,lower:more:4000-8000"))
    assert found.standing == standing
    assert "upper gives 2.0 dB more than lower" in found.parts[0].said
    assert ("as measured, for one drive at one distance, 0.0 dB" in found.parts[0].said) == spl


def test_a_claim_follows_the_newest_curve_and_one_on_a_withdrawn_curve_is_not_shown(described: Casebook) -> None:
    ids = {one.setup: one.id for one in curve_records.listed(described)}
    of_setups = claimed(described, curve="sallow,bracken:more:60-120:3")
    of_curves = claimed(described, curve=f"{ids['sallow']},{ids['bracken']}:more:60-120:3")
    assert judged(described, of_setups).standing == judged(described, of_curves).standing == "shown"
    given_out.note(described, judged_claims.every(described))
    sallow = catalogue.find(described, Setup, "sallow")
    flat = NewCurve("response", ON_AXIS, np.column_stack([HZ, np.full(len(HZ), 80.0)]), Conditions())
    old = [curve_records.by_id(described, ids["sallow"])]
    curve_records.keep(described, sallow, [(RawFile.of("b", b"b"), [flat])], replaces=old, why="the gate was wrong")
    found = judged(described, of_setups)
    assert found.standing == "contradicted"
    assert "it was shown when it was given out last" in found.changed[0]
    found = judged(described, of_curves)
    assert found.standing == "not shown"
    assert "is withdrawn: the gate was wrong" in found.parts[0].said


def test_a_makers_fact_is_stated_agrees_or_differs(described: Casebook) -> None:
    sallow = catalogue.find(described, Setup, "sallow")
    impedance = NewCurve("impedance", ON_AXIS, np.column_stack([HZ, np.full(len(HZ), 5.0)]), Conditions())
    curve_records.keep(described, sallow, [(RawFile.of("z", b"z"), [impedance])])
    fact_rows.keep(described, sallow, "nominal impedance", "8 ohm", "sheet")
    fact_rows.keep(described, sallow, "weight", "8 kg", "sheet")
    stated = claimed(described, fact="sallow:nominal impedance")
    found = judged(described, stated)
    assert found.standing == "contradicted"  # 5 ohm where a rating of 8 ohm asks for 6.4
    assert "; what was measured does not agree: " in found.parts[0].said
    by_maker = judged(described, claimed(described, "The maker states 8 ohm.", fact="sallow:nominal impedance"))
    assert (by_maker.standing, by_maker.overstated) == ("shown", ())
    assert by_maker.parts[0].said.startswith("as the maker states: 8 ohm (sheet); what was measured does not agree: ")
    weight = judged(described, claimed(described, "It weighs 8 kg.", fact="sallow:weight"))
    assert [mark.gentler for mark in weight.overstated] == ["the maker states"]
    assert comes_to(described, fact="sallow:nominal impedance:agrees") == "contradicted"
    assert comes_to(described, fact="sallow:nominal:differs") == "shown"
    assert comes_to(described, fact="sallow:weight") == "shown"
    assert comes_to(described, fact="sallow:weight:agrees") == "not shown"
    fact_rows.keep(described, sallow, "nominal impedance", "", "")
    assert judged(described, stated).parts[0].said == "the maker states it no longer"
    with pytest.raises(CatalogueError, match=r"no fact called 'wieght'.*did you mean 'weight'"):
        claimed(described, fact="sallow:wieght")


def test_a_claim_is_changed_and_taken_back_by_later_rows_and_keeps_its_name(described: Casebook) -> None:
    first = claimed(described, "It is boomy.", word="sallow:boomy")
    content = ClaimContent(words=first.content.words, video_from_ms=12_000)
    second = claim_rows.change(described, first, "To me it is boomy.", content, "softened")
    assert (second.id, second.number, second.changes) == (first.id, 1, 1)
    assert claim_rows.find(described, second.row) == claim_rows.find(described, "1") == second
    with pytest.raises(CatalogueError, match="was changed meanwhile"):
        claim_rows.change(described, first, "Other.", content)
    with pytest.raises(CatalogueError, match="for a reason that stays on record"):
        claim_rows.withdraw(described, second, " ")
    gone = claim_rows.withdraw(described, second, "I no longer hear it")
    assert gone.withdrawn
    assert judged_claims.every(described) == []
    with pytest.raises(CatalogueError, match=r"was taken back .I no longer hear it.; write it anew"):
        claim_rows.change(described, gone, "It is boomy.", content)
    rows = described.query("SELECT text, why FROM claims ORDER BY seq")
    assert [row["text"] for row in rows] == ["It is boomy.", "To me it is boomy.", ""]
    assert chain_holds(described)


@pytest.mark.parametrize(
    ("typed", "refused"),
    [
        ({"plan": "evning"}, "no sealed plan called 'evning'"),
        ({"word": "word-none"}, "no word 'word-none'"),
        ({"word": "sallow:"}, "which word"),
        ({"word": "salow:airy"}, "did you mean 'sallow'"),
        ({"curve": "sallow,bracken:more"}, "type it like"),
        ({"curve": "sallow,bracken:more:120-60"}, "a band goes up"),
        ({"curve": "sallow,sallow:more:60-120"}, "names one thing twice"),
        ({"curve": "curve-none:more:60-120"}, "no curve 'curve-none'"),
        ({"fact": "sallow"}, "type it like sallow:sensitivity"),
    ],
)
def test_evidence_that_is_not_there_is_refused_with_what_to_type(
    described: Casebook, typed: dict[str, str], refused: str
) -> None:
    with pytest.raises(CatalogueError, match=re.escape(refused)):
        claimed(described, **typed)


@pytest.mark.parametrize(
    ("sentence", "bearing", "marked"),
    [
        ("There is no difference.", PLAINLY, ["no difference"]),
        ("In this test no difference was shown.", PLAINLY, []),
        ("Everybody hears it, always.", PLAINLY, ["Everybody", "always"]),
        ("You will hear it.", PLAINLY, ["You will hear"]),
        ("Nobody can hear that.", PLAINLY, ["Nobody"]),
        ("It is the best of all.", PLAINLY, ["best"]),
        ("It is boomy because of its port.", PLAINLY, ["because"]),
        ("That\u2019s why it is boomy.", PLAINLY, ["That's why"]),
        ("This proves it.", PLAINLY, ["proves"]),
        ("Night and day.", PLAINLY, ["Night and day"]),
        ("Listeners heard it.", PLAINLY, []),
        ("Listeners heard it.", Bearing(frozenset({"Ada"}), blind_test=True), ["Listeners"]),
        ("It sounds airy.", Bearing(frozenset({"Ada"}), sighted_words=True), ["sounds"]),
        ("To me it sounds airy.", Bearing(frozenset({"Ada"}), sighted_words=True), []),
        ("Heard blind.", Bearing(), ["blind"]),
        ("I measured a rise.", Bearing(blind_test=True), ["measured"]),
        ("It is better.", Bearing(blind_test=True), ["better"]),
        ("A significant difference.", PLAINLY, ["significant"]),
        ("Just as good.", PLAINLY, ["Just as good"]),
        ("They are the same to the ear.", PLAINLY, ["are the same"]),
        ("There is nothing to choose between them.", PLAINLY, ["nothing to choose between"]),
        ("Nothing separates them.", PLAINLY, ["Nothing separates"]),
        ("It is impossible to tell them apart.", PLAINLY, ["impossible to tell"]),
        ("There is a 99.98 % chance that they differ.", PLAINLY, ["99.98 % chance"]),
        ("That is one in a million.", PLAINLY, ["one in a million"]),
        ("Any child hears it.", PLAINLY, ["Any child"]),
        ("Its port makes it boomy.", PLAINLY, ["makes it"]),
        ("She hears it 100 percent of the time.", PLAINLY, ["100 percent of the time"]),
        ("It beats the other.", PLAINLY, ["beats"]),
        ("It leaves the other for dead.", PLAINLY, ["for dead"]),
        ("It is the finer one.", PLAINLY, ["finer"]),
        ("The finer one.", Bearing(blind_test=True), ["finer"]),
        ("You would not know that it is there.", PLAINLY, ["would not know"]),
        ("It plays louder.", PLAINLY, []),
        ("It plays louder.", Bearing(relative_curves=True), ["louder"]),
    ],
)
def test_words_that_say_more_than_their_evidence_are_marked(sentence: str, bearing: Bearing, marked: list[str]) -> None:
    assert [one.words for one in wording.overstated(sentence, bearing)] == marked


@pytest.mark.parametrize(
    "sentence",
    [
        "Most people hear it.",
        "All three of us heard it.",
        "You will hear it at once.",
        "You won't hear it.",
        "Anyone can tell them apart.",
        "Everyone on the panel heard it.",
        "A night and day difference.",
        "There is no doubt about it.",
        "This proves that the difference is there.",
        "The two are identical.",
        "The change is inaudible.",
        "It is not audible.",
        "It always sounds wider.",
        "It is never boomy.",
        "It is clearly better.",
        "The best I have had here.",
        "An improvement is guaranteed.",
        "We all agreed.",
        "Nobody could hear it.",
        "None of us heard it.",
        "Half of all listeners hear it.",
        "Nine out of ten people would hear it.",
        "80 % of listeners hear it.",
        "The panel was unanimous.",
        "It is definitely there.",
        "They can't be told apart.",
        "It makes no difference.",
        "There isn't any difference.",
        "It sounds so on any system.",
        "It is wider, no matter what you play.",
        "The average listener hears it.",
        "Your grandmother hears it.",
        "You need no trained ear for this.",
        "It is audible to all.",
        "There can be no question that they differ.",
        "It is a fact that they differ.",
        "Ada can reliably tell them apart.",
        "They differ on every kind of music.",
        "In any home they differ.",
        "Ada heard it every single time.",
        "It wins hands down.",
        "It leaves the other standing.",
        "No loudspeaker at this price comes near.",
        "It is twice as good.",
        "The cheaper one is as good.",
        "It is the one to buy.",
        "It was not shown, so save your money.",
        "It is more accurate.",
        "The difference is large.",
        "It is not subtle.",
        "The tweeter is to blame.",
        "The odds are 1 to 3000 that she guessed.",
    ],
)
@pytest.mark.parametrize("names", [("Ada",), ("Ada", "Bo"), ("Ada", "Bo", "Cy", "Di", "Eve")])
def test_a_sentence_for_more_than_who_and_what_was_tested_is_marked_with_a_wording_that_fits(
    sentence: str, names: tuple[str, ...]
) -> None:
    bearing = replace(PLAINLY, listeners=frozenset(names))
    found = wording.overstated(sentence, bearing)
    assert found
    for one in found:
        assert one.gentler
        assert "{" not in one.gentler
        assert one.gentler not in [again.gentler for again in wording.overstated(one.gentler, bearing)]


@pytest.mark.parametrize(
    "sentence",
    [
        "The two are not identical.",
        "This proves nothing.",
        "It does not prove that.",
        "Not everybody heard it.",
        "Ada and Bo, taken together, heard it.",
        "In this test it was not shown that they heard it.",
        "I did not hear it.",
        "9 of 10 trials were answered rightly.",
        "Its impedance agrees with what the maker states.",
        "Of those I compared it was the best.",
        "It was not always so.",
        "Whether they differ I cannot tell from this test.",
        "I do not say that there is no difference.",
        "Guessing alone has a chance that small in 2 of 10,000 such tests.",
        "The beats of the drum.",
        "The largest difference lies at 80 Hz.",
        "It is not as good.",
        "Guessing does as well: that is as good as guessing.",
    ],
)
def test_a_sentence_that_takes_the_strong_word_back_is_not_marked(sentence: str) -> None:
    assert wording.overstated(sentence, PLAINLY) == []


HEARD_15 = (
    "plan evening: shown: sallow against bracken: a difference was HEARD; 15 of 16 trials were answered rightly; "
    "guessing alone does as well in about 3 of 10,000 such tests"
)
BAND = "curve sallow, more than bracken in 40 to 180 Hz: shown: sallow gives 4.2 dB more than bracken (± 0.4 dB, 95 %)"
BOOMY = 'plan words: shown: "boomy" was said of bracken more often, 10 to 0'


@pytest.mark.parametrize(
    ("sentence", "told", "marked"),
    [
        ("It played at 85 dB.", [HEARD_15], ["85 dB"]),
        ("It played at 85 dBA.", [HEARD_15, BAND], ["85 dBA"]),
        ("It played at 85 dB.", [], []),  # an opinion
        ("It has 4 dB more, from 40 to 180 Hz.", [BAND], []),
        ("It has 4,2 dB more below 0.2 kHz.", [BAND], []),
        ("It has 4.5 dB more.", [BAND], ["4.5 dB"]),
        ("It has 20 dB more at 60 to 90 Hz.", [BAND], ["20 dB", "60 Hz", "90 Hz"]),
        ("Ada was right fifteen times out of sixteen.", [HEARD_15], []),
        ("Guessing does as well in 3 of 10,000 tests.", [HEARD_15], []),
        ("Ada was right in 16 of 16 trials.", [HEARD_15], ["16 of 16"]),
        ("She hears it nine times out of ten.", [HEARD_15], ["nine times out of ten"]),
        ("One of the two loudspeakers has more.", [BAND], []),
        ("Sallow 6 dB was heard.", [HEARD_15], []),  # a setup's name
        ("Bracken is boomier.", [BOOMY], []),
        ("Bracken is thumpy.", [BOOMY], []),  # folded into boomy
        ("Bracken is boomier, and warm.", [BOOMY], ["warm"]),
        ("Bracken is boomier.", [HEARD_15, BAND], ["boomier"]),
        ("Bracken sounds bright.", [HEARD_15], ["bright"]),
        ("Even so it is hard to say, and far from clear.", [HEARD_15], []),
        ("Bracken sounds hard.", [HEARD_15], ["hard"]),
    ],
)
def test_a_number_or_word_for_sound_that_no_evidence_tells_of_is_marked(
    sentence: str, told: list[str], marked: list[str]
) -> None:
    found = unborne.named(sentence, told, lexicon.shipped(), ["sallow 6 dB", "Ada"])
    assert [one.words for one in found] == marked


def test_a_level_that_no_evidence_gives_is_never_said_to_be_shown_alone(described: Casebook) -> None:
    """The band bears 3 dB more, and tells nothing of how loud it played; without evidence it is an opinion."""
    found = judged(described, claimed(described, "It played at 85 dB.", curve="sallow,bracken:more:60-120:3"))
    assert (found.standing, found.told) == ("shown", "shown, but the sentence says more")
    assert [one.words for one in found.overstated] == ["85 dB"]
    louder = judged(described, claimed(described, "Sallow is louder.", curve="sallow,bracken:more:60-120:3"))
    assert [one.words for one in louder.overstated] == ["louder"]  # once, though two rules find it
    assert judged(described, claimed(described, "It played at 85 dB.")).told == "opinion"


@pytest.mark.parametrize(
    ("names", "says"),
    [
        ((), "those who listened heard it"),
        (("Ada",), "Ada heard it"),
        (("Bo", "Ada"), "Ada and Bo, taken together, heard it"),
        (("Ada", "Bo", "Cy", "Di", "Eve"), "the 5 who listened, taken together, heard it"),
    ],
)
def test_the_gentler_wording_names_whose_evidence_it_is(names: tuple[str, ...], says: str) -> None:
    [found] = wording.overstated("Everybody hears it.", Bearing(frozenset(names), blind_test=True))
    assert found.gentler == says


def test_every_rule_can_apply_and_no_gentler_wording_is_marked_itself() -> None:
    assert len(wording.rules()) >= 15
    assert {rule.when for rule in wording.rules()} == set(APPLIES)
    for rule in wording.rules():
        for bearing in (PLAINLY, Bearing(frozenset({"Ada"}), sighted_words=True)):
            gentler = rule.gentler_for(bearing)
            again = [one.words for one in wording.overstated(gentler, bearing) if one.gentler == gentler]
            assert again == [], gentler


def claim_of(number: int, text: str, start_ms: int | None, end_ms: int | None = None) -> JudgedClaim:
    content = ClaimContent(video_from_ms=start_ms, video_to_ms=end_ms)
    part = Part("plan <evening>", "shown", "7 of 8 --> right & more\n\nthan chance")
    return JudgedClaim(Claim(f"claim-{number}", number, "row", "", "", text, content), "shown", (part,))


def test_timed_notes_keep_to_the_grammar_of_webvtt() -> None:
    """The W3C's syntax of a file, from memory: blocks, times that rise, text without a bare & or < or arrow."""
    given = [
        claim_of(1, "It is <b>boomy</b> & heard --> so", 3_723_500),
        claim_of(2, "First.", 1_000),
        claim_of(3, "Said at once.", 2_000),
        claim_of(4, "At the same moment.", 2_000, 2_500),
        claim_of(5, "Never said.", None),
    ]
    text = timed_notes.webvtt(given)
    first, *blocks = text.removesuffix("\n").split("\n\n")
    assert first == "WEBVTT"
    assert blocks[0].startswith("NOTE ")
    assert "-->" not in blocks[0]
    spans = []
    for block in blocks[1:]:
        identifier, times, *payload = block.split("\n")
        assert "-->" not in identifier
        found = re.fullmatch(r"(\d{2,}):([0-5]\d):([0-5]\d\.\d{3}) --> (\d{2,}):([0-5]\d):([0-5]\d\.\d{3})", times)
        assert found is not None, times
        hours, minutes, seconds, *end = (float(part) for part in found.groups())
        spans.append((3600 * hours + 60 * minutes + seconds, 3600 * end[0] + 60 * end[1] + end[2]))
        assert payload
        for line in payload:
            assert line.strip()
            assert re.fullmatch(r"(?:[^&<>]|&(?:amp|lt|gt);)+", line), line
    assert [start for start, _ in spans] == [1, 2, 2, 3723.5]
    assert all(end > start for start, end in spans)
    assert spans[0][1] == 2  # until the next one begins
    assert spans[2][1] == 2.5
    assert "It is &lt;b&gt;boomy&lt;/b&gt; &amp; heard --&gt; so" in text
    assert timed_notes.text(given).splitlines()[0] == "0:01 First."
    assert "62:03 It is <b>boomy</b> & heard --> so" in timed_notes.text(given)


READ_BY_A_TRACK = """async text => {
    const video = document.createElement('video'), track = document.createElement('track');
    track.src = URL.createObjectURL(new Blob([text], {type: 'text/vtt'}));
    track.default = true;
    document.body.append(video);
    video.append(track);
    track.track.mode = 'hidden';
    await new Promise((loaded, failed) => { track.onload = loaded; track.onerror = failed; });
    return [...track.track.cues].map(cue => [cue.startTime, cue.endTime, cue.getCueAsHTML().textContent]);
}"""


@pytest.mark.browser
def test_a_browsers_own_track_reads_every_cue_with_its_times_and_its_text(chromium: Browser) -> None:
    """Chromium's parser of WebVTT must get back what was typed, from timed notes and from captions."""
    texts = [
        "It is <b>boomy</b> & heard --> so", "NOTE this is no note", "STYLE", "a\nb\r\n\nc", "&amp; &lt; already",
        "x" * 12_000, "line\u2028sep", "<00:01.000> stamp", "<v Ada>voice</v>", "-->", "&nbsp;",
        "00:01.000 --> 00:02.000", "<c.foo", "trailing &", "\u00e9 \U0001f600", "An hour.",
    ]  # fmt: skip
    starts_ms = [*(1_000 + 5_000 * place for place in range(len(texts) - 1)), 3_600_123]
    notes = timed_notes.webvtt([claim_of(n, *one) for n, one in enumerate(zip(texts, starts_ms, strict=True), 1)])
    cues = [Cue(48 * start, 48 * start + 48_000, text, 1) for text, start in zip(texts, starts_ms, strict=True)]
    page = chromium.new_page()
    noted = page.evaluate(READ_BY_A_TRACK, notes)
    captioned = page.evaluate(READ_BY_A_TRACK, captions.webvtt(cues, 48_000))
    page.close()
    typed = [" ".join(text.split()) for text in texts]
    for read in (noted, captioned):
        assert [text.split("\n")[0] for _, _, text in read] == typed
        assert [round(1000 * start) for start, _, _ in read] == starts_ms
    assert [round(1000 * end) for _, end, _ in captioned] == [start + 1000 for start in starts_ms]


def test_the_sheet_says_how_each_sentence_may_be_said_and_nothing_of_it_becomes_markup() -> None:
    bold = claim_of(1, 'It is *boomy* <b>here</b>, "so"', 12_000)
    made = sheet.sheet("What <is> claimed", "2026-05-01T00:00:00.000Z", [bold])
    assert "<b>here" not in sheet.html(made)
    assert "It is *boomy* &lt;b&gt;here&lt;/b&gt;" in sheet.html(made)
    assert "\\*boomy\\* \\<b\\>here" in sheet.markdown(made)
    [row] = csv.DictReader(io.StringIO(sheet.table(made)))
    assert row["sentence"] == bold.claim.text
    assert (row["standing"], row["how to say it"], row["video from"]) == ("shown", "Can be said as it stands.", "0:12")


@pytest.mark.parametrize("text", ["=HYPERLINK(1)", "+4 dB", "-4 dB", "@x", "'tis so", "Boomy = more bass."])
def test_no_spreadsheet_runs_a_sentence_or_a_note_of_the_table(text: str) -> None:
    one = claim_of(1, text, None)
    noted = replace(one, claim=replace(one.claim, content=replace(one.claim.content, note=text)))
    [row] = csv.DictReader(io.StringIO(sheet.table(sheet.sheet("x", "2026-05-01T00:00:00.000Z", [noted]))))
    for cell in (row["sentence"], row["note"]):
        assert cell == (text if text.startswith("Boomy") else f"'{text}")
        assert unguarded(cell) == text
    assert all(not cell.startswith(("=", "+", "-", "@")) for cell in row.values())


def test_what_says_more_than_its_evidence_goes_out_with_its_mark_and_the_gentler_wording() -> None:
    text = "There is no difference between sallow and bracken."
    plain = claim_of(1, "Measured.", 1_000)
    given = [plain, replace(claim_of(2, text, 4_000), overstated=tuple(wording.overstated(text, PLAINLY)))]
    assert given[1].overstated
    for notes in (timed_notes.webvtt(given), timed_notes.text(given)):
        lines = [line.strip() for line in notes.splitlines()]
        below = lines[next(place for place, line in enumerate(lines) if line.endswith(text)) + 1 :]
        assert below[0] == "shown, but the sentence says more"
        assert f"say rather: {given[1].overstated[0].gentler}" in below[1]
        assert lines.count("shown") == 1  # of the other
    made = sheet.sheet("x", "2026-05-01T00:00:00.000Z", given)
    assert made.counted == "2 claims: 2 shown (1 of them says more than its evidence)."
    for page, alone, marked in (
        (sheet.markdown(made), "**SHOWN**", "**SHOWN, BUT THE SENTENCE SAYS MORE**"),
        (sheet.html(made), "<b>SHOWN</b>", "<b>SHOWN, BUT THE SENTENCE SAYS MORE</b>"),
    ):
        assert (page.count(alone), page.count(marked)) == (1, 1)


def test_that_what_is_not_marked_may_say_too_much_stands_in_all_that_goes_out() -> None:
    plain = [claim_of(1, "Measured.", 1_000)]
    made = sheet.sheet("x", "2026-05-01T00:00:00.000Z", plain)
    for text in (sheet.markdown(made), sheet.html(made), timed_notes.text(plain)):
        assert "a sentence that is not marked may still say too much" in text
    [note] = [block for block in timed_notes.webvtt(plain).split("\n\n") if block.startswith("NOTE")]
    assert "a sentence that is not marked may still say too much" in " ".join(note.split())


def test_the_commands_keep_list_change_and_give_out_claims(described: Casebook, tmp_path: Path) -> None:
    book = described.folder
    said = earwitness(book, "claims", "add", "Everybody hears it.", "--curve", "sallow,bracken:more:60-120").stdout
    assert "SHOWN: all of its evidence bears it" in said
    assert '"Everybody": it was heard by those who took the test' in said
    refused = earwitness(book, "claims", "export", "--out", str(tmp_path / "n.vtt"))
    assert refused.returncode == 2
    assert "nobody said when a claim is said in the video" in refused.stderr
    assert earwitness(book, "claims", "edit", "1", "--text", "Measured.", "--video", "1:02").returncode == 0
    files = [str(tmp_path / f"c{ending}") for ending in given_out.OF_ENDING]
    done = earwitness(book, "claims", "export", "--json", *(part for file in files for part in ("--out", file)))
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["noted"] is True
    assert all(Path(file).stat().st_size > 50 for file in files)
    [listed] = json.loads(earwitness(book, "claims", "list", "--json").stdout)["claims"]
    assert (listed["text"], listed["standing"], listed["changed"]) == ("Measured.", "shown", [])
    for command in (["list"], ["show", "1"]):
        assert "a sentence that is not marked may still say too much" in earwitness(book, "claims", *command).stdout
    assert earwitness(book, "claims", "withdraw", "1", "--why", "no longer").returncode == 0
    assert "was taken back" in earwitness(book, "claims", "show", "1").stdout
    with open_casebook(book) as again:
        assert chain_holds(again)
        assert catalogue.everything(again, Track)[0].name == "drums"
