"""A reviewer's own dictionary: planted octaves are read, words counted by tracks, and too little is declined."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook import catalogue, store
from sessions.commands import words_learn
from sessions.commands.setups_described import described_setups, where
from sessions.measured import curve_records
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import CurveRecord, NewCurve, RawFile
from sessions.measured.unit_bands import OCTAVES, UnitBands, unit_bands
from sessions.results.blind_ticks import TickedWord
from sessions.results.learned_words import LEAST_UNLIKE, Dictionary, Material, WordOfReviewer, learned, material
from sessions.words import log
from sessions.words.blindness import SIGHTED, LabelledWord
from sessions.words.lexicon import shipped
from sessions.words.log import LoggedWord
from sessions.words.tracks_described import TracksDescribed
from stats.estimates import PValue
from stats.leading_band import LeadingBand, leading_band
from stats.words_learned import LEAST_UNITS, LearnedWord, WordsLearned
from tests.command_line import earwitness

HZ = np.geomspace(20, 22_400, 700)
SEEN = (20.0, 22_400.0)


def response(lifts: dict[str, float], level_db: float = 0.0) -> np.ndarray:
    """A level response with whole octaves lifted."""
    level = np.full(len(HZ), level_db)
    for name, db in lifts.items():
        level[np.abs(np.log2(HZ / OCTAVES[name])) < 0.6] += db
    return np.column_stack([HZ, level])


def curve(name: str, data: np.ndarray, valid_hz: tuple[float, float] = SEEN, **stated: object) -> CurveRecord:
    conditions = Conditions(valid_hz=valid_hz, **stated)  # type: ignore[arg-type]
    return CurveRecord(name, name, name, "response", ON_AXIS, name, conditions, data)


class TestBands:
    def test_planted_octaves_are_read_against_what_is_typical_whatever_the_level(self) -> None:
        lifted = [("a", [curve("a", response({"2 kHz": 4.0}, 80.0))])]
        plain = [(name, [curve(name, response({}, level))]) for name, level in [("b", 0.0), ("c", 5.0), ("d", -5.0)]]
        found = unit_bands([*lifted, *plain])
        place = found.bands.index("2 kHz")
        read = np.array(found.levels_db)
        assert read[:, place] == pytest.approx([3.0, -1.0, -1.0, -1.0], abs=0.1)  # 4 dB less their mean of 1
        far = [n for n, name in enumerate(found.bands) if abs(np.log2(OCTAVES[name] / 2000)) > 1.5]
        assert np.abs(read[:, far]).max(initial=0) < 0.05

    def test_an_octave_that_one_lacks_is_left_out_of_all_and_a_curve_too_narrow_is_left_out_itself(self) -> None:
        rng = np.random.default_rng(1)
        lifts = [{name: float(db) for name, db in zip(OCTAVES, rng.normal(0, 2, 9), strict=True)} for _ in range(4)]
        gated = curve("c", response(lifts[2]), (300.0, 20_000.0))
        narrow = curve("d", response(lifts[3]), (20.0, 6000.0))
        whole = [(name, [curve(name, response(own))]) for name, own in zip("ab", lifts, strict=False)]
        found = unit_bands([*whole, ("c", [gated]), ("d", [narrow]), ("e", [])])
        assert found.bands == ("500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz", "16 kHz")
        assert found.units == ("a", "b", "c")
        assert dict(found.left_out).keys() == {"d", "e"}
        assert unit_bands(whole).bands == tuple(OCTAVES)

    def test_the_curve_measured_like_the_others_is_taken_and_another_way_is_told(self) -> None:
        here = [(name, [curve(name, response({"4 kHz": db}), room="hall")]) for name, db in [("a", 1.0), ("b", 2.0)]]
        both = ("c", [curve("c1", response({"4 kHz": 3.0}), room="hall"), curve("c2", response({}), room="yard")])
        away = ("d", [curve("d", response({"4 kHz": 6.0}), room="yard")])
        found = unit_bands([*here, both, away])
        read = [levels[found.bands.index("4 kHz")] for levels in found.levels_db]
        assert read == pytest.approx([-2, -1, 0, 3], abs=0.15)
        assert found.otherwise == (1, ("room",))


def bells(rng: np.random.Generator, name: str, units: int) -> tuple[UnitBands, np.ndarray]:
    """Every other unit with a bell of 6 dB at one octave, which reaches into its neighbours, among octaves' noise."""
    lifted, far = np.arange(units) % 2, np.log2(HZ / OCTAVES[name])
    every = []
    for unit, more in enumerate(lifted):
        level = response(dict(zip(OCTAVES, rng.normal(0, 0.4, 9).tolist(), strict=True)))
        level[:, 1] += (6.0 * more - 1.0) * np.exp(-((far / 0.8) ** 2))
        every.append((str(unit), [curve(str(unit), level)]))
    return unit_bands(every), lifted.astype(float)


def test_the_octave_named_is_the_planted_one_and_not_what_the_reference_leaves_elsewhere() -> None:
    rng, named = np.random.default_rng(14), []
    for name in ("125 Hz", "500 Hz", "1 kHz", "4 kHz", "8 kHz") * 2:
        table, lifted = bells(rng, name, 14)
        levels = np.array(table.levels_db)
        for use, way in ((lifted, 1), (1 - lifted, -1)):
            found = leading_band(levels, use)
            assert np.sign(found.per_db) == way
            named.append(table.bands[found.place] == name)
            apart = [abs(list(OCTAVES).index(table.bands[n]) - list(OCTAVES).index(name)) for n in found.together]
            assert set(apart) <= {1}  # the bell's own skirts
            assert not found.opposite
    assert np.mean(named) == 1


def test_octaves_that_go_together_are_named_together_each_its_own_way() -> None:
    leading = LeadingBand(2, 0.9, 0.2, (1, 3), (3,))
    words = words_learn._goes_with(leading, ("1 kHz", "2 kHz", "4 kHz", "8 kHz"))
    assert words == "more at 4 kHz, or more at 2 kHz, or less at 8 kHz"


def said(term: str, setup: str, track: str | None) -> LabelledWord:
    word = LoggedWord("w", "2026-01-01", "Ada", setup, track, None, None, term, 3, None, False, "", None, False, setup)
    return LabelledWord(word, SIGHTED, setup, setup)


def test_a_word_counts_as_the_share_of_tracks_by_its_headword_and_liking_not_at_all() -> None:
    table = unit_bands([(name, [curve(name, response({"4 kHz": n}))]) for n, name in enumerate("abcde")])
    words = [
        *(said(term, "a", track) for term, track in [("bright", "x"), ("Bright", "x"), ("bright", "y"), ("dry", "z")]),
        *(said("bright", "b", track) for track in "xy"),
        said("brilliant", "c", "x"),  # folded into bright
        *(said("good", name, track) for name in "cde" for track in "xy"),
    ]
    found = material(words, table, shipped())
    assert found.units == tuple("abcde")
    assert [one.tracks for one in found.described] == [3, 2, 2, 2, 2]
    [bright] = found.words
    assert bright.word == "bright"
    assert bright.uses == pytest.approx((2 / 3, 1, 1 / 2, 0, 0))
    assert (found.alike, found.said, found.sighted) == (1, 6, 6)  # dry was said of one setup alone
    assert found.lacking == LEAST_UNITS - 5
    assert LEAST_UNLIKE == 3


def test_what_was_said_outside_of_any_track_is_no_track_and_counts_like_one_more() -> None:
    table = unit_bands([(name, [curve(name, response({"4 kHz": n}))]) for n, name in enumerate("abcde")])
    words = [said("bright", "a", "x"), said("dry", "a", None), *(said("bright", name, None) for name in "bc")]
    words += [said("dry", name, None) for name in "de"]
    found = material(words, table, shipped())
    assert [(one.tracks, one.outside) for one in found.described] == [(1, True), *[(0, True)] * 4]
    uses = {word.word: word.uses for word in found.words}
    assert uses == {"bright": (0.5, 1, 1, 0, 0), "dry": (0.5, 0, 0, 1, 1)}
    assert where(found.described) == "in 1 track or outside of any"
    assert where(found.described[1:]) == "outside of any track"
    assert where((TracksDescribed(2, False), TracksDescribed(3, True))) == "in 2 to 3 tracks"


def test_what_was_ticked_in_a_blind_ballot_counts_before_what_was_said_freely_of_the_same_track() -> None:
    table = unit_bands([(name, [curve(name, response({"4 kHz": n}))]) for n, name in enumerate("abcde")])
    words = [said("bright", "a", "x"), said("bright", "a", "y"), said("dry", "b", "x"), said("dry", "c", None)]
    ticked = [
        TickedWord("bright", "a", "x", 1, 4),  # said sighted, and ticked in one of four presentations
        TickedWord("bright", "b", "x", 3, 4),
        TickedWord("brilliant", "d", "z", 2, 4),  # folded into bright; of a setup described in a ballot alone
        TickedWord("good", "e", "x", 4, 4),
    ]
    found = material(words, table, shipped(), ticked)
    assert found.units == tuple("abcd")  # liking alone describes nothing
    [bright] = found.words
    # x of a: 1/4 by the ballot, y: said; x of b: 3/4; c described outside of tracks; z of d: 2/4
    assert bright.uses == pytest.approx(((1 / 4 + 1) / 2, 3 / 4, 0, 2 / 4))
    assert [one.told() for one in found.described] == [
        "in 2 tracks", "in 1 track", "outside of any track", "in 1 track",
    ]  # fmt: skip
    assert (found.said, found.ticked) == (2, 6)


def kept_book(folder: Path, units: int, linked: bool, seed: int = 5) -> Path:
    """A casebook of setups with random octaves, and a reviewer who says bright of treble at 4 kHz, or by a coin."""
    rng = np.random.default_rng(seed)
    book = folder / "book"
    with store.create(book) as made:
        ada = catalogue.add_listener(made, "Ada")
        tracks = [catalogue.keep(made, catalogue.new_track(made, name)) for name in ("pavane", "gigue", "air", "round")]
        lifts, words = rng.normal(0, 2.5, (units, len(OCTAVES))), []
        for n, own in enumerate(lifts):
            setup = catalogue.add_setup(made, f"unit {n}")
            data = response(dict(zip(OCTAVES, own.tolist(), strict=True)))
            new = NewCurve("response", ON_AXIS, data, Conditions(valid_hz=SEEN))
            curve_records.keep(made, setup, [(RawFile.of(f"{n}.txt", data.tobytes()), [new])])
            for track, bar in zip(tracks, (-3, -1, 1, 3), strict=True):
                treble = own[list(OCTAVES).index("4 kHz")] if linked else rng.normal(0, 2.5)
                terms = ["bright"] if treble > bar else []
                for term in [*terms, *(["wide"] if rng.random() < 0.4 else []), "round"]:
                    words.append(log.new_word(ada, log.Word(term, 3, setup_id=setup.id, track_id=track.id)))
        made.append_many(words)
    return book


def test_the_command_reads_a_planted_word_and_says_first_how_little_there_is(tmp_path: Path) -> None:
    book = kept_book(tmp_path, 20, linked=True)
    told = earwitness(book, "words", "learn")
    assert told.returncode == 0, told.stderr
    lines = told.stdout.splitlines()
    assert lines[0].startswith(
        "Ada described 20 setups measured on axis, each in 4 tracks: 9 octaves (63 Hz to 16 kHz)"
    )
    little, whole = (next(n for n, line in enumerate(lines) if line.startswith(start)) for start in ("How l", "As a w"))
    assert little < whole
    assert lines[whole].startswith("As a whole shown")
    rows = {line.split("  ")[0]: line for line in lines[whole:]}
    assert "more at 4 kHz  " in rows["bright"]
    assert "more of 4 to 8 kHz" in rows["bright"]
    assert "not shown" in rows["wide"]
    assert "round" not in rows  # said of all alike
    found = json.loads(earwitness(book, "words", "learn", "--json").stdout)
    assert (found["shown"], found["units_lacking"], found["words_used_alike"]) == (True, 0, 1)
    assert {word["word"]: word["goes_with_bands"] for word in found["words"]} == {"bright": True, "wide": False}
    assert next(word["leading"]["octave"] for word in found["words"] if word["word"] == "bright") == "4 kHz"


def test_a_reviewer_without_a_link_gets_no_word_read(tmp_path: Path) -> None:
    told = earwitness(kept_book(tmp_path, LEAST_UNITS, linked=False, seed=6), "words", "learn")
    assert told.returncode == 0, told.stderr
    assert "As a whole not shown" in told.stdout
    assert "goes with" not in told.stdout


def test_of_such_reviewers_no_more_than_alpha_are_called() -> None:
    rng = np.random.default_rng(12)
    table = [tuple(own) for own in rng.normal(0, 2, (LEAST_UNITS, 7)).tolist()]
    called = 0
    for _ in range(60):
        tracks = rng.binomial(4, rng.uniform(0.2, 0.8, (3, 1)), (3, LEAST_UNITS)) / 4
        words = tuple(WordOfReviewer(str(n), LEAST_UNITS, tuple(own)) for n, own in enumerate(tracks.tolist()))
        there = Material(("u",) * LEAST_UNITS, tuple(table), (TracksDescribed(4, False),) * LEAST_UNITS, words, 0, 0, 0)
        called += learned(there).learned.p.value <= 0.05
    assert called <= 60 * 0.05 + 3 * np.sqrt(60 * 0.05 * 0.95)


def test_too_few_setups_are_declined_with_how_many_more_are_needed(tmp_path: Path) -> None:
    book = kept_book(tmp_path, LEAST_UNITS - 3, linked=True)
    told = earwitness(book, "words", "learn")
    assert told.returncode == 1
    assert f"this needs {LEAST_UNITS} setups that were described and measured, 3 more than there are" in told.stdout
    found = json.loads(earwitness(book, "words", "learn", "--json").stdout)
    assert (found["computed"], found["units_lacking"]) == (False, 3)
    assert earwitness(book, "words", "learn", "--listener", "Bea").returncode == 2
    blind = earwitness(book, "words", "learn", "--blind")
    assert (blind.returncode, f"{LEAST_UNITS} more" in blind.stdout) == (1, True)


def test_what_there_is_to_learn_from_is_told_truly_of_none_of_one_and_of_many() -> None:
    once, bands = TracksDescribed(1, False), ("63 Hz", "125 Hz")
    assert described_setups("Ada", (), ()) == "Ada described no setup that was measured on axis."
    one = described_setups("Ada", (), (once,))
    assert one.startswith("Ada described 1 setup measured on axis, in 1 track: ")
    assert "validly" not in one  # its curve may be as wide as any: an octave is told against other setups
    assert described_setups("Ada", bands[:1], (once, once)).endswith(
        ": 1 octave (63 Hz) was measured validly of all of them."
    )
    assert described_setups("Ada", (), (once, once)).endswith(
        ": no octave was measured validly of all of them in which they are not alike."
    )


def test_what_is_foretold_no_better_than_by_the_mean_is_told_as_not_shown(capsys: pytest.CaptureFixture[str]) -> None:
    whole = WordsLearned(
        14, -0.02, PValue(0.01, 999), (LearnedWord(-0.02, PValue(0.01, 999), (1.0,), LeadingBand(0, 0.1, 1.0)),)
    )
    there = Material(tuple("ab"), ((1.0,), (2.0,)), (1, 1), (WordOfReviewer("bright", 1, (0.0, 1.0)),), 0, 1, 0)
    measured = UnitBands(("1 kHz",), ((707.0, 1414.0),), ("a", "b"), ((1.0,), (2.0,)), (), (0, ()))
    words_learn._tell(there, measured, Dictionary(whole, (0.5, 0.1)), shipped())
    told = capsys.readouterr().out
    assert "As a whole not shown: the octaves foretell no word better than the mean" in told
    assert "where 50 % of how a word is used came from one octave, it would be found for 10 of 100 reviewers" in told
    assert "bright" not in told
    stated = words_learn._document(
        "Ada",
        {},
        replace(measured, units=()),
        replace(there, units=(), described=(), levels_db=()),
        Dictionary(whole, (0.5, 0.1)),
    )
    assert (stated["shown"], stated["words"][0]["goes_with_bands"]) == (False, False)
