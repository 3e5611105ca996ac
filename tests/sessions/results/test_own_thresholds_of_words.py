"""A listener's own threshold before a published one: whose run counts for a word's band, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import pytest

from audio.known_difference import peaking
from sessions.casebook import catalogue, store
from sessions.casebook.playback_chain import PlaybackChain
from sessions.casebook.threshold_rows import GivenAnswer, KeptThreshold, Sought
from sessions.measured import own_thresholds
from sessions.measured.band_effect import BandEffect
from sessions.measured.word_thresholds import AudibleFrom
from sessions.results.crosscheck import crosscheck
from sessions.results.crosscheck_of_two import other_chains
from sessions.results.crosschecked import Crosschecked, WordOfTwo
from sessions.words.lexicon import shipped
from tests.sessions.results.test_crosscheck import NAMES, effect


class TestOwnThreshold:
    """The listener's own threshold before a published one; bright points to 4 to 8 kHz, where 1 dB is published."""

    @pytest.fixture(autouse=True)
    def trusted(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Runs here hold answers of a known threshold in no order of play; doubted ones are tested with `threshold`."""
        monkeypatch.setattr(own_thresholds, "doubt", lambda kept: "")

    @staticmethod
    def run_of(low_db: float, high_db: float | None, **changed: object) -> KeptThreshold:
        """A run in which `low_db` and smaller was guessed, and `high_db` and larger always noticed."""
        sizes = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
        search = {"alternatives": 3, "proportion": 0.6667, "level": 0.95, "width": None, "fewest": 1, "most": 200}
        place = {"passage": "drums 1", "length_ms": 4000, "rate_hz": 48_000, "sha256": "", "by": "a", "gain_db": 0.0}
        band = {"kind": "lift", "centre_hz": 5657, "octaves": 1.0}
        own = band | {key: value for key, value in changed.items() if key in band}
        sought = Sought(sizes_db=sizes, device="box", **own, **search, **place)  # type: ignore[arg-type]
        given = [
            GivenAnswer(size, trial % 3, trial % 3 if high_db is not None and db >= high_db else 0)
            for size, db in enumerate(sizes)
            if db <= low_db or (high_db is not None and db >= high_db)
            for trial in range(15)
        ]
        listener, complete = str(changed.get("listener", "ada")), bool(changed.get("complete", True))
        return KeptThreshold("run", "session", listener, None, "2026-11-26", complete, sought, tuple(given), (), 0)

    @staticmethod
    def judged(runs: list[KeptThreshold], found: BandEffect, who: tuple[str, ...] = ("ada",)) -> Crosschecked:
        def own_of(word: WordOfTwo, low_hz: float, high_hz: float, lack: bool) -> AudibleFrom | None:
            names = {"ada": "Ada", "bo": "Bo"}
            return own_thresholds.of_band(runs, word.listeners, names, low_hz, high_hz, lack=lack)

        word = WordOfTwo("bright", True, "heard", "", who)
        return crosscheck([word], NAMES, shipped(), lambda low, high: found, own_of)[0]

    def test_it_counts_before_the_published_one_and_the_answer_says_which(self) -> None:
        found = effect(2.0)
        assert self.judged([], found).outcome == "heard and measured"
        fine, coarse = self.run_of(0.25, 0.5), self.run_of(4.0, 8.0)
        low = self.judged([coarse], found)
        assert low.outcome == "heard, not measured"
        assert "Ada's own threshold is" in low.why
        assert low.audible is not None
        assert low.audible.own
        assert low.audible.source.startswith("Ada's own: 90 trials of more in 4000 to 8000 Hz on passage drums 1")
        assert self.judged([fine], effect(0.8)).outcome == "heard and measured"
        published = self.judged([], effect(0.8))
        assert "1.0 dB can be heard, as published" in published.why
        assert published.audible is not None
        assert not published.audible.own

    def test_the_threshold_is_read_as_the_effect_is(self) -> None:
        """The bell's mean over its octave less its middle elsewhere, summed here over a fine grid, 1.5 dB high."""
        hz = np.geomspace(100, 10_000, 4001)
        db = 20 * np.log10(np.abs(peaking(hz, 5657, 1.5, 1.0)))
        inside = (hz >= 4000) & (hz <= 8000)
        share = (np.mean(db[inside]) - np.median(db[~inside])) / 1.5
        assert 0.7 < share < 0.8
        run = self.run_of(1.0, 2.0)
        audible = self.judged([run], effect(2.0)).audible
        low, value, high = own_thresholds.ends_db(run)
        assert audible is not None
        assert value is not None
        own = (audible.low_db, audible.db, audible.high_db)
        assert own == pytest.approx((share * low, share * value, share * high), rel=0.03)

    def test_where_its_interval_and_the_effects_meet_it_cannot_be_told(self) -> None:
        run = self.run_of(1.0, 2.0)
        audible = self.judged([run], effect(2.0)).audible
        assert audible is not None
        for db, says in (
            (audible.low_db - 0.3, "heard, not measured"),
            (audible.low_db - 0.1, "cannot be told"),
            ((audible.low_db + audible.high_db) / 2, "cannot be told"),
            (audible.high_db + 0.1, "cannot be told"),
            (audible.high_db + 0.3, "heard and measured"),
        ):
            assert self.judged([run], effect(db)).outcome == says

    @pytest.mark.parametrize(
        ("ends", "db", "expanded", "says"),
        [
            # the effect within the threshold's interval, not the threshold within the effect's uncertainty
            ((3.7, 2.2, 5.3), 3.7, 0.2, "3.7 dB, its interval 2.2 to 5.3 dB, and what was measured lies within that"),
            ((3.7, 2.2, 5.3), 3.7, None, "3.7 dB, its interval 2.2 to 5.3 dB, and what was measured lies within that"),
            ((3.7, 2.2, 5.3), 2.1, 0.2, "and the uncertainty of what was measured reaches into that interval"),
            ((3.7, 2.2, 5.3), 5.5, None, "lies outside of that interval, but within 0.5 dB of it (our own rule"),
            (
                (6.47, 2.92, inf),
                4.0,
                0.2,
                "Ada's own threshold is 6.5 dB, its interval from 2.9 dB on, open above, and",
            ),
            ((0.8, 0.0, 1.5), 1.0, 0.2, "Ada's own threshold is 0.8 dB, its interval up to 1.5 dB, open below, and"),
            ((2.0, 0.0, inf), 1.0, 0.2, "Ada's own threshold is 2.0 dB, its interval open on both sides, and"),
            ((None, 0.0, 0.4), 0.2, 0.1, "Ada's own threshold lies in an interval up to 0.4 dB, open below, and"),
        ],
    )
    def test_an_effect_that_decides_nothing_is_told_as_it_lies_to_the_interval(
        self, ends: tuple[float | None, float, float], db: float, expanded: float | None, says: str
    ) -> None:
        own = AudibleFrom(*ends, "Ada's own", own=True, whose="Ada")
        word = WordOfTwo("bright", True, "heard", "", ("Ada",))
        [found] = crosscheck([word], NAMES, shipped(), lambda *_: effect(db, expanded), lambda *_: own)
        assert found.outcome == "cannot be told"
        assert says in found.why
        assert "lies within that uncertainty" not in found.why

    def test_what_is_told_as_nothing_has_no_side(self) -> None:
        for db in (0.04, -0.04):
            assert self.judged([], effect(db)).why.startswith("sallow gives as much there as bracken (0.0 dB apart), ")

    def test_who_noticed_nothing_bears_out_nothing_of_what_was_played(self) -> None:
        deaf = self.run_of(8.0, None)
        one = self.judged([deaf], effect(2.0))
        assert one.outcome == "heard, not measured"
        assert "Ada's own threshold was not reached" in one.why
        more = self.judged([deaf], effect(9.0))
        assert more.outcome == "cannot be told"
        assert more.why.endswith("Ada's own threshold was not reached, and what was measured is more than that")

    def test_only_a_whole_run_of_this_listener_in_this_band_counts(self) -> None:
        for other in (
            {"complete": False},
            {"listener": "bo"},
            {"centre_hz": 1000},
            {"kind": "level", "centre_hz": None, "octaves": None},
        ):
            judged = self.judged([self.run_of(4.0, 8.0, **other)], effect(2.0))
            assert judged.audible is not None
            assert not judged.audible.own
        third = self.run_of(4.0, 8.0, octaves=1 / 3)  # a third of what both cover
        judged = self.judged([third], effect(2.0))
        assert judged.audible is not None
        assert not judged.audible.own

    def test_of_several_listeners_each_must_have_one_and_who_needs_most_counts(self) -> None:
        ada, bo = self.run_of(0.25, 0.5), self.run_of(4.0, 8.0, listener="bo")
        both = self.judged([ada, bo], effect(2.0), ("ada", "bo"))
        assert both.audible is not None
        assert both.audible.source.startswith("Bo's own")
        assert "Bo's own threshold (the largest of ada, bo) is" in both.why  # words name listeners as given here
        alone = self.judged([ada], effect(2.0), ("ada", "bo"))
        assert alone.audible is not None
        assert not alone.audible.own

    def test_a_narrow_lack_wants_a_run_of_less(self) -> None:
        names = {"ada": "Ada"}
        lift = self.run_of(1.0, 2.0, octaves=0.5)
        cut = self.run_of(1.0, 2.0, octaves=0.5, kind="cut")
        band = lift.sought.band_hz
        assert band is not None
        assert own_thresholds.of_band([lift], ["ada"], names, *band, lack=True) is None
        assert own_thresholds.of_band([lift], ["ada"], names, *band, lack=False) is not None
        assert own_thresholds.of_band([cut], ["ada"], names, *band, lack=True) is not None

    def test_of_a_band_a_run_of_its_own_side_counts_before_a_newer_one_of_the_other(self) -> None:
        names = {"ada": "Ada"}
        more, less = self.run_of(0.5, 1.0), replace(self.run_of(2.0, 4.0, kind="cut"), at="2026-12-24")
        newer = replace(self.run_of(1.0, 2.0), at="2026-12-01")
        for runs, lack, says in (
            ([more, less], False, "more in 4000 to 8000 Hz on passage drums 1 through box, 2026-11-26"),
            ([more, less], True, "less in 4000 to 8000 Hz on passage drums 1 through box, 2026-12-24"),
            ([more, newer, less], False, "more in 4000 to 8000 Hz on passage drums 1 through box, 2026-12-01"),
            ([less], False, "less in 4000 to 8000 Hz on passage drums 1 through box, 2026-12-24"),
        ):
            found = own_thresholds.of_band(runs, ["ada"], names, 4000, 8000, lack=lack)
            assert found is not None
            assert found.source.endswith(says)

    def test_a_setup_that_played_and_is_neither_of_the_two_is_named(self) -> None:
        run, names = replace(self.run_of(0.5, 1.0), setup_id="w"), {"ada": "Ada"}
        found = own_thresholds.of_band([run], ["ada"], names, 4000, 8000, lack=False, others={"w": "willow"})
        assert found is not None
        assert "on passage drums 1 by willow, which is neither of the two, through box" in found.source
        own = own_thresholds.of_band([run], ["ada"], names, 4000, 8000, lack=False, others={"x": "alder"})
        assert own is not None
        assert "neither" not in own.source

    def test_a_run_through_another_chain_than_the_two_does_not_count_and_is_named(self) -> None:
        names, run = {"ada": "Ada"}, replace(self.run_of(0.5, 1.0), setup_id="w")
        asked = {"listener_ids": ["ada"], "names": names, "low_hz": 4000, "high_hz": 8000, "lack": False}
        elsewhere = {"w": "willow", None: "pink noise"}
        assert own_thresholds.of_band([run], elsewhere=elsewhere, **asked) is None  # type: ignore[arg-type]
        [why] = own_thresholds.set_aside([run], elsewhere=elsewhere, **asked)  # type: ignore[arg-type]
        assert why.endswith(
            "it was found with willow through box, which is another chain than those of the two, and holds for its own"
        )
        own, noise = replace(run, setup_id="s", at="2026-01-01"), replace(run, setup_id=None)
        used = own_thresholds.of_band([run, own, noise], elsewhere=elsewhere, **asked)  # type: ignore[arg-type]
        assert used is not None
        assert used.source.endswith("2026-01-01")

    def test_recordings_share_their_chain_and_gear_is_one_of_its_own(self, tmp_path: Path) -> None:
        with store.create(tmp_path / "book") as book:
            files = [catalogue.add_setup(book, name) for name in ("sallow", "bracken", "willow")]
            chains = [PlaybackChain("route", "box", (place,), 0) for place in range(3)]
            gear = [catalogue.add_setup(book, f"amp {n}", chain=chain) for n, chain in enumerate(chains)]
            asked = [other_chains(book, two) for two in (files[:2], gear[:2], [files[0], gear[0]])]
        assert [set(found.values()) for found in asked] == [
            {"amp 0", "amp 1", "amp 2"},
            {"sallow", "bracken", "willow", "amp 2", "pink noise"},
            {"amp 1", "amp 2"},
        ]
