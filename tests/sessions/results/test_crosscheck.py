"""Words beside curves: a planted difference in a band is found where a word points there, and only there."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from audio.curves import lanes
from audio.curves.curve import Curve
from sessions.casebook import catalogue, store
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.commands import crosscheck as command
from sessions.measured import curve_records
from sessions.measured.band_effect import BandEffect, BandEffects
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.measured.member import Member
from sessions.measured.word_thresholds import BY_OCTAVES, word_threshold_db
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.report import words_beside
from sessions.results import crosscheck_in_words
from sessions.results.crosscheck import crosscheck
from sessions.results.crosscheck_of_two import crosscheck_of_two
from sessions.results.crosschecked import Crosschecked, Evidence, Outcome, WordOfTwo
from sessions.results.verdict import judge
from sessions.results.words_of_two import in_words, of_ballot, of_ballots, of_judged
from sessions.words.blindness import IN_A_BLIND_TRIAL, SAID_TO_BE_BLIND, SIGHTED, LabelledWord
from sessions.words.lexicon import shipped
from sessions.words.log import LoggedWord
from tests.answered_plans import answer_all
from tests.command_line import earwitness
from tests.records import RIGHT, plan, record

HZ = np.geomspace(20, 20_000, 961)
NAMES = ("sallow", "bracken")
GAP_HZ = (4500.0, 7500.0)


def curve(lift_db: float = 0.0, low_hz: float = 4000, high_hz: float = 8000, level_db: float = 0.0) -> Curve:
    """A level response with a lift in a band, its edges a little outside."""
    level = np.where((low_hz / 1.01 <= HZ) & (high_hz * 1.01 >= HZ), lift_db, 0.0) + level_db
    return Curve(HZ, level, valid_hz=(20.0, 20_000.0))


class TestEffect:
    def test_a_planted_lift_is_read_against_the_rest_whatever_the_level(self) -> None:
        found = BandEffects((curve(2.0, level_db=3.0),), (curve(),)).of(4000, 8000)
        assert found is not None
        assert found.db == pytest.approx(2.0, abs=0.05)
        assert found.expanded_db is None

    def test_what_lies_elsewhere_tells_nothing_of_this_band(self) -> None:
        # a treble 3 dB lower says nothing of the bass; the bass of both is alike
        dull = curve(-3.0, 2000, 20_000)
        found = BandEffects((dull,), (curve(),))
        bass, treble = found.of(60, 250), found.of(4000, 8000)
        assert bass is not None
        assert treble is not None
        assert (bass.db, treble.db) == (pytest.approx(0, abs=0.01), pytest.approx(-3.0, abs=0.01))

    @pytest.mark.parametrize("corner_hz", [1500, 2000, 4000])
    def test_a_gentle_shelf_of_the_treble_is_measured_there_and_leaves_the_bass_alone(self, corner_hz: float) -> None:
        # a first-order shelf of 4 dB: half of it at its corner, from (1 + r(f/c)²) / (1 + (f/c)²/r), r = 10^(4/20)
        ratio, place = 10 ** (4 / 20), (HZ / corner_hz) ** 2
        shelf = Curve(HZ, 10 * np.log10((1 + ratio * place) / (1 + place / ratio)), valid_hz=(20.0, 20_000.0))
        band = (HZ >= 4000) & (HZ <= 8000)
        planted = float(np.mean(shelf.level_db[band]))
        for bent, level, sign in ((shelf, curve(level_db=2.0), 1), (curve(), shelf, -1)):
            effects = BandEffects((bent, bent), (level, level))  # repeats that agree: what is measured decides
            treble, bass = effects.of(4000, 8000), effects.of(60, 250)
            assert treble is not None
            assert bass is not None
            assert treble.db == pytest.approx(sign * planted, abs=0.45)
            assert abs(bass.db) < 0.45  # less than can be heard there
            said = [WordOfTwo("boomy", sign < 0, "said", ""), WordOfTwo("bright", sign > 0, "said", "")]
            found = crosscheck(said, NAMES, shipped(), effects.of)
            assert [one.outcome for one in found] == ["said, not measured", "said and measured"]

    def test_a_tilt_is_less_of_the_one_end_and_more_of_the_other(self) -> None:
        # half a dB an octave about 1 kHz, the middle of 100 Hz to 10 kHz: at the middle of a band so many octaves off
        tilted = BandEffects((Curve(HZ, 0.5 * np.log2(HZ / 1000), valid_hz=(20.0, 20_000.0)),), (curve(),))
        for low_hz, high_hz in ((60, 250), (4000, 8000)):
            found = tilted.of(low_hz, high_hz)
            assert found is not None
            assert found.db == pytest.approx(0.5 * np.log2(np.sqrt(low_hz * high_hz) / 1000), abs=0.05)

    def test_a_peak_or_a_wide_lift_is_read_whole_and_says_nothing_of_what_lies_beside_it(self) -> None:
        for low_hz, high_hz in ((700, 1400), (200, 1000), (1000, 10_000)):
            effects = BandEffects((curve(3.0, low_hz, high_hz),), (curve(),))
            own, beside = effects.of(low_hz, high_hz), effects.of(60, 150)
            assert own is not None
            assert beside is not None
            assert own.db == pytest.approx(3.0, abs=0.1)
            assert high_hz > 2000 or beside.db == pytest.approx(0.0, abs=0.1)

    def test_a_band_that_is_hardly_valid_has_no_effect(self) -> None:
        short = Curve(HZ, 0 * HZ, valid_hz=(20.0, 5000.0))
        assert BandEffects((short,), (curve(),)).of(4000, 8000) is None
        holed = Curve(HZ, 0 * HZ, valid_hz=(20.0, 20_000.0), gaps_hz=(GAP_HZ,))
        assert BandEffects((holed,), (curve(),)).of(4000, 8000) is None

    def test_the_interval_covers_the_truth_as_often_as_it_says(self) -> None:
        # Repeats scatter in the band by 0.3 and 0.6 dB; Welch's interval is close to exact for normal scatter.
        rng, inside, runs = np.random.default_rng(5), 0, 400
        for _ in range(runs):
            first = tuple(curve(1.0 + 0.3 * rng.standard_normal()) for _ in range(4))
            second = tuple(curve(0.6 * rng.standard_normal()) for _ in range(5))
            found = BandEffects(first, second).of(4000, 8000)
            assert found is not None
            assert found.expanded_db is not None
            assert found.repeats == (4, 5)
            inside += abs(found.db - 1.0) <= found.expanded_db
        share, error = inside / runs, np.sqrt(0.95 * 0.05 / runs)
        assert abs(share - 0.95) < 3 * error


class TestThreshold:
    def test_the_wider_the_band_the_less_can_be_heard(self) -> None:
        widths = [word_threshold_db(1000, 1000 * 2**octaves) for octaves in (0.2, 0.5, 1.5, 2.5)]
        assert widths == [5.0, 3.0, 1.0, 0.5]
        assert all(one[0] > other[0] and one[1] < other[1] for one, other in pairwise(BY_OCTAVES))

    def test_a_narrow_lack_must_be_twice_as_large_and_the_bass_has_its_own_threshold(self) -> None:
        assert word_threshold_db(1000, 1500, lack=True) == 6.0
        assert word_threshold_db(1000, 4000, lack=True) == 0.5
        assert word_threshold_db(20, 150) == pytest.approx(1.4, abs=0.15)  # between 1.5 at 50 Hz and 1.0 at 100 Hz

    def test_above_what_anybody_states_nothing_is_judged(self) -> None:
        assert word_threshold_db(10_000, 20_000) is None
        assert outcome("airy", "heard", True, effect(9.0)) == "cannot be told"


def outcome(term: str, evidence: Evidence, first: bool | None, effect: BandEffect | None) -> Outcome:
    return crosscheck([WordOfTwo(term, first, evidence, "")], NAMES, shipped(), lambda low, high: effect)[0].outcome


def effect(db: float, expanded: float | None = 0.2) -> BandEffect:
    return BandEffect(4000, 8000, db, expanded)


@pytest.mark.parametrize(
    ("evidence", "first", "db", "says"),
    [
        ("heard", True, 2.0, "heard and measured"),
        ("heard", False, -2.0, "heard and measured"),
        ("heard", True, -2.0, "heard, not measured"),
        ("heard", True, 0.3, "heard, not measured"),
        ("heard", True, 1.1, "cannot be told"),
        ("not shown", None, 2.0, "measured, not heard"),
        ("not shown", None, -2.0, "measured, not heard"),
        ("not shown", None, 0.1, "neither heard nor measured"),
        ("said", True, 2.0, "said and measured"),
        ("said", False, 2.0, "said, not measured"),
    ],
)
def test_bright_of_four_to_eight_kilohertz(evidence: Evidence, first: bool | None, db: float, says: Outcome) -> None:
    assert outcome("bright", evidence, first, effect(db)) == says


@pytest.mark.parametrize(
    ("evidence", "says"),
    [
        ("enough alone", "measured the other way round, enough by its ballot alone"),
        ("too few to show", "measured the other way round, not shown; so few trials could not show it"),
        ("not shown", "measured, not heard"),
    ],
)
def test_what_is_measured_of_the_one_that_got_the_word_less_is_said_to_be_so(evidence: Evidence, says: Outcome) -> None:
    def found(more: bool | None, db: float) -> Crosschecked:
        word = WordOfTwo("bright", None, evidence, "", more=more)
        return crosscheck([word], NAMES, shipped(), lambda low, high: effect(db))[0]

    for more, db, got_more in ((False, 2.0, "bracken"), (True, -2.0, "sallow")):
        turned = found(more, db)
        assert turned.outcome == says
        assert turned.why.endswith(f"; in the ballot {got_more} got the word more, the other way round")
        assert turned.measured == (evidence == "not shown")
        alike = found(not more, db)
        assert alike.measured
        assert "other way" not in f"{alike.outcome}{alike.why}"
    assert found(None, 2.0).measured
    assert found(False, 0.1).outcome == found(None, 0.1).outcome


def test_a_word_of_less_is_borne_out_by_less() -> None:
    assert outcome("dull", "heard", True, effect(-2.0)) == "heard and measured"
    assert outcome("dull", "heard", True, effect(2.0)) == "heard, not measured"


def test_without_repeats_the_outcome_says_that_nobody_knows_how_surely() -> None:
    found = crosscheck([WordOfTwo("bright", True, "heard", "")], NAMES, shipped(), lambda *_: effect(2.0, None))[0]
    assert found.outcome == "heard and measured"
    assert "without repeats" in found.why


@pytest.mark.parametrize(
    ("db", "expanded", "says"),
    [
        (1.0, None, "cannot be told"),  # as the threshold of this band, 1 dB
        (1.4, None, "cannot be told"),
        (0.6, None, "cannot be told"),
        (1.6, None, "heard and measured"),
        (0.4, None, "heard, not measured"),
        (1.04, 0.0, "cannot be told"),  # told as 1.0 dB, whatever the repeats give
        (1.1, 0.0, "heard and measured"),
    ],
)
def test_an_effect_as_large_as_its_threshold_decides_nothing(db: float, expanded: float | None, says: Outcome) -> None:
    [found] = crosscheck([WordOfTwo("bright", True, "heard", "")], NAMES, shipped(), lambda *_: effect(db, expanded))
    assert found.outcome == says
    assert ("within 0.5 dB of it (our own rule" in found.why) == (expanded is None and says == "cannot be told")


@pytest.mark.parametrize(
    ("term", "evidence", "says"),
    [
        ("depth", "heard", "heard, nothing measurable is known for this word"),
        ("pleasant", "said", "said, nothing measurable is known for this word"),
        ("knurrig", "heard", "heard, nothing measurable is known for this word"),
        ("tight", "heard", "cannot be told"),
        ("hissy", "heard", "cannot be told"),
        ("neutral", "heard", "cannot be told"),
        ("smooth", "heard", "cannot be told"),
        ("muddy", "heard", "cannot be told"),
        ("hollow", "heard", "cannot be told"),
    ],
)
def test_words_of_which_a_response_tells_nothing_are_not_judged_by_it(
    term: str, evidence: Evidence, says: Outcome
) -> None:
    assert outcome(term, evidence, True, effect(9.0)) == says


def test_a_band_that_was_not_measured_is_not_judged() -> None:
    assert outcome("bright", "heard", True, None) == "cannot be told"


def labelled(term: str, setup: str, track: str | None, how: str = SIGHTED) -> LabelledWord:
    word = LoggedWord(
        "w", "2026-11-02T20:00:00Z", "Ada", setup, track, None, None, term, 3, None, False, "", None, False
    )
    return LabelledWord(word, how, setup, setup)


def test_words_of_two_count_tracks_and_never_say_heard() -> None:
    said = [labelled("Bright", "a", "x"), labelled("bright", "a", "x"), labelled("hell", "b", "y", IN_A_BLIND_TRIAL)]
    said += [labelled("thumpy", "b", "y"), labelled("bright", "c", "x")]
    bright, boomy = in_words(said, ("a", "b"), NAMES, shipped())
    assert (bright.term, bright.first, bright.evidence) == ("bright", None, "said")
    assert bright.how.endswith("in a blind trial 1, sighted 2")
    assert (boomy.term, boomy.first) == ("boomy", False)
    said_so = in_words([labelled("dull", "a", "x", SAID_TO_BE_BLIND)], ("a", "b"), NAMES, shipped())
    assert said_so[0].how.endswith("said to be blind 1")


def test_what_was_said_outside_of_any_track_is_told_as_in_no_track() -> None:
    [airy] = in_words([labelled("airy", "b", None)], ("a", "b"), NAMES, shipped())
    assert airy.how == "of sallow in 0, of bracken outside of any track; sighted 1"
    both = [labelled("airy", "a", "x"), labelled("airy", "a", None), labelled("airy", "b", "x")]
    [airy] = in_words(both, ("a", "b"), NAMES, shipped())
    assert airy.how == (
        "of sallow in 1 track and outside of any, of bracken in 1 track (described in 1 track and outside "
        "of any and in 1 track); sighted 3"
    )


def test_what_there_is_instead_of_a_curve_on_axis_is_told(
    casebook: Casebook, capsys: pytest.CaptureFixture[str]
) -> None:
    setups = [catalogue.add_setup(casebook, name) for name in ("osk", "vem")]
    data = np.column_stack([HZ, np.zeros(len(HZ))])
    sides = [NewCurve("response", ON_AXIS, data, Conditions(member=Member(side=side))) for side in ("left", "right")]
    curve_records.keep(casebook, setups[0], [(RawFile.of("pair.txt", b"a"), sides)])
    found = crosscheck_of_two(casebook, setups, [], shipped())
    assert found.lacking == ("osk has only others (left, on axis; right, on axis)", "vem has no response at all")
    command._tell(found, ())
    told = capsys.readouterr().out
    assert "not for one side, driver or place" in told
    assert all(one in " ".join(told.split()) for one in found.lacking)


def test_the_command_tells_a_planted_lift_beside_the_words_and_draws_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "book"
    with store.create(book) as made:
        catalogue.add_listener(made, "Ada")
        for name in NAMES:
            catalogue.add_setup(made, name)
    for name, lift_db in (("sallow", 3.0), ("bracken", 0.0)):
        file = tmp_path / f"{name}.txt"
        own = curve(lift_db)
        rows = "\n".join(f"{hz:.2f} {db:.3f}" for hz, db in zip(own.hz, own.level_db, strict=True))
        file.write_text(f"Hz dB\n{rows}\n", encoding="utf-8")
        assert earwitness(book, "curve", "add", name, str(file)).returncode == 0
    for term, of in (("bright", "sallow"), ("boomy", "bracken"), ("deep stage", "sallow")):
        earwitness(book, "word", "log", term, "--setup", of)
    out = tmp_path / "words.svg"
    told = earwitness(book, "crosscheck", *NAMES, "--out", str(out))
    assert told.returncode == 0, told.stderr
    lines = {line.split("  ")[0]: line.split("  ")[-1].strip() for line in told.stdout.splitlines() if "  " in line}
    assert lines["bright"] == "said and measured"
    assert lines["boomy"] == "said, not measured"
    assert lines["depth"] == "said, nothing measurable is known for this word"
    assert "None of this says that what was measured is why" in told.stdout
    assert "bright" in out.read_text(encoding="utf-8")
    for term in ("warm", "forward", "harsh"):
        earwitness(book, "word", "log", term, "--setup", "bracken")
    monkeypatch.setitem(command.ROOM_DB, "1920x1080", 8.0)  # as a frame full of words has
    assert "left out" not in out.read_text(encoding="utf-8")
    told = earwitness(book, "crosscheck", *NAMES, "--out", str(out), "--size", "1920x1080")
    unseen = told.stdout.partition("not on it: ")[2].count(": ")
    assert unseen > 1
    drawn = " ".join(re.findall(r">([^<]+)<", out.read_text(encoding="utf-8")))
    assert f"sallow less bracken; {unseen} words left out" in " ".join(drawn.split())


def test_what_a_ballot_showed_stays_heard_where_the_measurements_cannot_tell_and_is_drawn_first() -> None:
    words = [
        WordOfTwo("boomy", None, "not shown", "", ballot="tick"),
        WordOfTwo("bright", True, "heard", "", ballot="rate"),
        WordOfTwo("boomy", True, "heard", "", ballot="rate"),
        WordOfTwo("dull", True, "said", "", labels=(SIGHTED,)),
    ]
    found = crosscheck(words, NAMES, shipped(), lambda low, high: effect(1.0 if low == 4000 else 3.0, None))
    assert [one.outcome for one in found][1] == "cannot be told"
    assert [one.told for one in found][1:3] == ["heard; the measurements cannot tell", "heard and measured"]
    assert command._document(found[1])["outcome"] == "cannot be told"  # as programs have always read it
    told = [
        replace(found[1], word=WordOfTwo("bright", None, evidence, ""), entry=entry).told
        for evidence, entry in (("not shown", found[1].entry), ("too few to show", None), ("said", found[1].entry))
    ]
    assert told == [  # what the ballot came to is not hidden behind curves that decide nothing
        "not shown; the measurements cannot tell",
        "not shown (too few trials); nothing measurable is known for this word",
        "said; the measurements cannot tell",
    ]
    every = words_beside.marks(found, crosscheck_in_words.labels(found))
    assert [one.words.split(":")[0] for one in every] == [
        "boomy (ballot rate)",
        "bright",
        "boomy (ballot tick)",
        "dull",
    ]
    kept, _ = lanes.fitting(every, (20.0, 20_000.0), command.ROOM_DB["1920x1080"])
    assert kept[:2] == every[:2]


def test_of_words_that_are_not_heard_those_measured_most_apart_are_drawn_first() -> None:
    words = [WordOfTwo(term, None, "not shown", "", ballot="evening") for term in ("bright", "forward", "boomy")]
    found = crosscheck(words, NAMES, shipped(), lambda low_hz, _: effect({60: -5.0, 1000: 0.2}.get(low_hz, 1.0)))
    every = words_beside.marks(found, crosscheck_in_words.labels(found))
    assert [one.words.split(":")[0] for one in every] == ["boomy", "bright", "forward"]


def test_which_range_the_rest_is_stands_once_with_its_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    words = [WordOfTwo("bright", True, "heard", ""), WordOfTwo("boomy", True, "heard", "")]
    command._tell_words(crosscheck(words, NAMES, shipped(), lambda *_: effect(3.0)))
    told = " ".join(capsys.readouterr().out.split())
    assert told.count("The rest of the range: 100 to 10000 Hz, as far as it was measured validly of both") == 1
    command._tell_words(crosscheck(words, NAMES, shipped(), lambda *_: None))
    assert "rest of the range" not in capsys.readouterr().out


def test_only_what_a_ballot_showed_is_heard_and_of_whom_whichever_setup_is_asked_for_first() -> None:
    made = plan("words", 12)
    one, other = (setup.id for setup in made.setups)
    shown = of_ballot(judge(record(made, [[RIGHT] * 12])), (one, other), shipped())
    assert [(word.term, word.first, word.evidence) for word in shown[:2]] == [
        ("bright", True, "heard"),
        ("boomy", False, "heard"),
    ]
    assert {word.evidence for word in shown[2:]} == {"not shown"}
    few = judge(record(plan("words", 3), [[RIGHT] * 3]))  # too few: 4 words, 4 · 2/2³
    for ids, more in (((one, other), [True, False]), ((other, one), [False, True])):
        words = of_ballot(few, ids, shipped())[:2]
        assert [(word.first, word.more, word.evidence) for word in words] == [
            (None, own, "too few to show") for own in more
        ]
    turned = of_ballot(judge(record(made, [[RIGHT] * 12])), (other, one), shipped())
    assert [(word.term, word.first) for word in turned[:2]] == [("bright", False), ("boomy", True)]
    assert "ticked of bracken alone in 0, of sallow alone in 12 of 12 trials" in turned[0].how
    assert of_ballot(judge(record(made, [[RIGHT] * 11])), (one, other), shipped()) == []  # not over
    assert of_ballot(judge(record(made, [[RIGHT] * 12])), (one, "another"), shipped()) == []
    assert of_ballot(judge(record(plan("abx", 12), [[RIGHT] * 12])), (one, other), shipped()) == []


def test_the_ballots_of_a_casebook_are_heard_once_they_are_over(casebook: Casebook) -> None:
    setups = [catalogue.find(casebook, Setup, name) for name in NAMES]
    assert of_ballots(casebook, setups, shipped()).words == []
    wish = Wish("words", NAMES, listeners=("Ada",), words=("bright", "dull", "boomy", "thin"), trials=12)
    drafting.draft(casebook, wish, "ballot")
    seals.seal(casebook, "ballot")
    assert of_ballots(casebook, setups, shipped()).words == []
    answer_all(casebook, 1.0, "Ada", "ballot")
    found = of_ballots(casebook, setups, shipped()).words
    assert [word.term for word in found] == ["bright", "dull", "boomy", "thin"]
    assert [word.evidence for word in found[:2]] == ["heard", "heard"]


def test_the_words_of_several_ballots_of_the_same_two_are_told_with_the_name_of_each(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ballots = []
    for name, answers in (("monday", [RIGHT] * 12), ("friday", [RIGHT, "wrong"] * 6)):
        made = record(plan("words", 12, name=name), [answers])
        verdict = judge(made)
        ids = [setup.id for setup in verdict.plan.setups]
        ballots += of_judged(verdict, made, (ids[0], ids[1]), shipped())
    words = [
        *ballots,
        WordOfTwo("bright", True, "said", "of sallow in 1 track, of bracken in 0; sighted 1", labels=(SIGHTED,)),
    ]
    found = crosscheck(words, NAMES, shipped(), lambda *_: effect(2.0))
    command._tell_words(found)
    rows = [line.split("  ") for line in capsys.readouterr().out.splitlines() if line.startswith("bright  ")]
    told = [tuple(part.strip() for part in row if part.strip()) for row in rows]
    assert told == [
        ("bright", "monday", "heard and measured"),
        ("bright", "friday", "measured, not heard"),
        ("bright", "-", "said and measured"),
    ]
    labels = [crosscheck_in_words.labels(found)(one) for one in found if one.word.term == "bright"]
    assert labels == [
        "bright (ballot monday): heard and measured",
        "bright (ballot friday): measured, not heard",
        "bright (said sighted): measured",
    ]
    firm = [
        one.firm
        for one in words_beside.marks(found, crosscheck_in_words.labels(found))
        if one.words.startswith("bright")
    ]
    assert firm == [True, True, True]  # all three bars are whole, as all say measured
    once = [one for one in found if one.word.ballot == "monday"]
    assert crosscheck_in_words.labels(once)(once[0]) == "bright: heard and measured"
