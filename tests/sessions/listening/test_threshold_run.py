"""A run for a threshold: what is played, what is kept, that nothing tells, and that it is found and taken up."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from math import log2

import numpy as np
import pytest
import scipy.signal

from audio.clip import Clip
from audio.curves.curve import log_grid
from audio.difference_steps import difference_steps
from audio.engine.playback import Audition, Faults, Position
from audio.known_difference import CEILING_DBTP, Lift, Step, peaking
from audio.levels.true_peak import true_peak_db
from audio.levels.weighting import level_db
from sessions.casebook import catalogue, playback_chain, session_rows, threshold_rows
from sessions.casebook.catalogue import Listener, Passage, Setup
from sessions.casebook.store import Casebook
from sessions.casebook.threshold_rows import Sought
from sessions.errors import CasebookBusy, CatalogueError, ListenError
from sessions.listening import threshold_run, threshold_sounds
from sessions.listening.simulated_threshold import SimulatedListener, chair_search, holds, rehearse
from sessions.listening.threshold_listening import ThresholdListening
from sessions.listening.threshold_sounds import Band, ThresholdSounds, of_noise, of_passage
from sessions.measured import own_thresholds
from sessions.measured.band_effect import effect_of_lift_db
from sessions.results import verification
from tests.casebooks import chain_holds
from tests.fakes import SilentPlayer, at_once
from tests.real_gear import PASSAGE_S, match_volts

OCTAVE = Band(4000, 1.0)


@pytest.fixture
def ada(casebook: Casebook) -> Listener:
    return catalogue.add_listener(casebook, "Ada")


@pytest.fixture
def sallow(casebook: Casebook) -> Setup:
    return catalogue.find(casebook, Setup, "sallow")


@pytest.fixture
def drums(casebook: Casebook) -> Passage:
    return catalogue.find(casebook, Passage, "drums 1")


@pytest.fixture(scope="module")
def noise() -> ThresholdSounds:
    return of_noise(OCTAVE, "none: test", None)


def at_the_player(
    run: threshold_run.ThresholdRun[Sought], sounds: ThresholdSounds
) -> tuple[ThresholdListening, SilentPlayer]:
    player = SilentPlayer()
    return ThresholdListening(run, player, sounds, sleep=at_once), player


def hear_all(listening: ThresholdListening, player: SilentPlayer) -> None:
    for place in range(listening.run.sought.alternatives):
        listening.hear(place)
        player.heard.append(Audition(place, 0, 24_000))
        listening.now()


def go_through(listening: ThresholdListening, player: SilentPlayer, choose: Callable[[], int], most: int = 100) -> int:
    """Trials heard and answered, up to the run's end or so many; how many there were."""
    trials = 0
    while trials < most and listening.offer():
        hear_all(listening, player)
        assert listening.answer(choose()) == ""
        trials += 1
    return trials


def noticing(listening: ThresholdListening, from_db: float, seed: int) -> Callable[[], int]:
    """A planted listener: names the changed one as one of a known threshold does, by what the trial plays."""
    rng, sought = np.random.default_rng(seed), listening.run.sought

    def choose() -> int:
        trial, listener = listening.current, SimulatedListener(from_db, 3.0)
        if rng.random() < listener.right(sought.sizes_db[trial.size]):
            return trial.changed
        return (trial.changed + 1 + int(rng.integers(2))) % 3

    return choose


class TestSounds:
    def test_all_sizes_are_equally_loud_their_band_apart_and_nothing_comes_near_full_scale(self) -> None:
        """12 dB more of the higher tone would clip, so all are made quieter alike."""
        seconds = np.arange(48_000) / 48_000
        loud = 0.8 * np.sin(2 * np.pi * 100 * seconds) + 0.15 * np.sin(2 * np.pi * 4000 * seconds)
        clip = Clip(loud[:, None], 48_000)
        made = difference_steps(clip, [Lift(4000, 3.0), Lift(4000, 12.0)], "c")
        peaks = [true_peak_db(one.astype(np.float64), 48_000) for one in made.sounds]
        assert max(peak for peak in peaks if peak is not None) == pytest.approx(CEILING_DBTP, abs=0.01)
        assert made.gain_db < -0.5
        np.testing.assert_allclose(made.sounds[0], clip.samples * 10 ** (made.gain_db / 20), atol=1e-6)
        levels = [level_db(Clip(one.astype(np.float64), 48_000), "c") for one in made.sounds]
        assert levels == pytest.approx([levels[0]] * 3, abs=0.01)
        whole = np.abs(np.fft.rfft(made.sounds[:, :, 0], axis=1))
        apart = 20 * np.log10(whole[:, 4000] / whole[:, 100])
        assert apart - apart[0] == pytest.approx([0, 3, 12], abs=0.1)

    def test_where_nothing_would_clip_nothing_is_made_quieter(self) -> None:
        clip = Clip(np.full((4800, 1), 0.1) * np.sin(np.arange(4800) / 8)[:, None], 48_000)
        made = difference_steps(clip, [Step(1.0)], "a")
        assert made.gain_db == 0
        np.testing.assert_allclose(made.sounds[1], clip.samples * 10 ** (1 / 20), atol=1e-6)

    def test_a_passage_is_what_its_match_sheet_prepared(
        self, casebook: Casebook, sallow: Setup, drums: Passage
    ) -> None:
        made = of_passage(casebook, sallow, drums, None, "none: test", None)
        assert made.sounds.shape == (1 + len(threshold_sounds.LEVEL_DB), 192_000, 2)
        there = threshold_sounds.free_sounds.ready(
            casebook, (sallow,), threshold_sounds.free_sounds.of_passage(casebook, drums)
        )
        np.testing.assert_allclose(made.sounds[0], there.sounds[0] * 10 ** (made.sought.gain_db / 20), rtol=2e-3)
        assert (made.sought.kind, made.sought.band_hz, made.sought.passage) == ("level", None, "drums 1")

    def test_a_passage_without_a_sheet_is_what_was_recorded(
        self, casebook: Casebook, sallow: Setup, drums: Passage
    ) -> None:
        for path in casebook.prepared.glob("*.wav"):
            path.unlink()
        made = of_passage(casebook, sallow, drums, None, "none: test", None)
        assert made.sounds.shape[1:] == (192_000, 2)
        assert float(np.abs(made.sounds[0]).max()) > 0.01

    def test_gear_on_a_route_plays_once_it_was_matched_and_gear_behind_a_switch_is_refused(
        self, routed: Casebook
    ) -> None:
        gear, heard = catalogue.find(routed, Setup, "bracken"), catalogue.find(routed, Passage, "drums 1")
        with pytest.raises(CatalogueError, match="was not matched for it yet"):
            of_passage(routed, gear, heard, None, "box", None)
        match_volts(routed)
        made = of_passage(routed, gear, heard, None, "box", None)
        assert made.sounds.shape[1:] == (round(PASSAGE_S * 48_000), 2)
        wish = playback_chain.SwitchWish("assistant", "cables to alder", hold_ms=3000)
        behind = catalogue.add_setup(routed, "alder", "", playback_chain.switched("box:1,2", wish))
        with pytest.raises(CatalogueError, match="stands behind an outside switch"):
            of_passage(routed, behind, heard, None, "box", None)

    def test_a_passage_that_holds_nothing_in_the_band_is_refused_and_one_with_little_is_marked(self) -> None:
        seconds = np.arange(96_000) / 48_000
        bass = 0.1 * np.sin(2 * np.pi * 110 * seconds) + 0.05 * np.sin(2 * np.pi * 220 * seconds)

        def made(sound: np.ndarray, band: Band | None) -> float | None:
            clip = Clip(sound[:, None], 48_000)
            return threshold_sounds._ready(clip, "bass", band, "bs1770", "none: test", None).sought.changes_db

        for band in (Band(8000, 1.0), Band(8000, 1.0, less=True)):
            with pytest.raises(ListenError, match=r"passage 'bass' holds too little around 8000 Hz.*--noise"):
                made(bass, band)
        with pytest.raises(ListenError, match="too little at all"):
            made(0 * bass, None)
        hiss = bass + 2**-15 * np.random.default_rng(1).normal(size=bass.size)
        little, enough = made(hiss, Band(8000, 1.0)), made(bass, Band(220, 1.0))
        assert little is not None
        assert enough is not None
        assert 1 <= little < own_thresholds.LITTLE_DB < enough

    def test_at_another_rate_all_sizes_are_made_of_the_sound_resampled(
        self, casebook: Casebook, sallow: Setup, drums: Passage
    ) -> None:
        """Against another resampler, scipy's, below 18 kHz; the gain is known to a hundredth of a decibel."""
        asked: list[int] = []

        def cd(rate_hz: int) -> int:
            asked.append(rate_hz)
            return 44_100

        own = of_passage(casebook, sallow, drums, None, "none: test", None)
        made = of_passage(casebook, sallow, drums, None, "none: test", None, cd)
        assert (asked, made.sought.rate_hz, made.sought.length_ms) == ([48_000], 44_100, own.sought.length_ms)
        before = own.sounds[0].astype(np.float64) * 10 ** ((made.sought.gain_db - own.sought.gain_db) / 20)
        there = scipy.signal.resample_poly(before, 147, 160, axis=0, window=("kaiser", 14.0))
        ours, theirs = (np.fft.rfft(sound[:, 0])[: 18_000 * 4] for sound in (made.sounds[0], there))  # 4 s of it
        assert 20 * np.log10(np.linalg.norm(ours - theirs) / np.linalg.norm(theirs)) < -55
        np.testing.assert_allclose(
            made.sounds[3], made.sounds[0] * 10 ** (threshold_sounds.LEVEL_DB[2] / 20), atol=1e-6
        )

    def test_what_does_not_fit_is_refused(self, casebook: Casebook, sallow: Setup, drums: Passage) -> None:
        with pytest.raises(ListenError, match="around 20 Hz is beyond"):
            of_noise(Band(20, 1.0), "none: test", None)
        long = Passage("p", drums.track_id, "long", 0, 31 * 48_000, 48_000, "", "")
        with pytest.raises(ListenError, match=r"lasts 31\.0 s; a threshold needs one of 1 to 30 s"):
            of_passage(casebook, sallow, long, OCTAVE, "none: test", None)


class TestRun:
    def test_a_planted_listener_is_found_and_the_record_holds(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            listening, player = at_the_player(run, noise)
            trials = go_through(listening, player, noticing(listening, 1.5, 4))
        assert noise.sought.fewest <= trials <= noise.sought.most
        [kept] = threshold_rows.every(casebook)
        found = own_thresholds.found(kept)
        assert (kept.complete, len(kept.answers), found.trials) == (True, trials, trials)
        assert found.low is not None
        assert found.high is not None
        assert found.low < 1.5 < found.high
        heard = casebook.query("SELECT heard FROM threshold_answers")
        assert {row["heard"] for row in heard} == {"[500, 500, 500]"}
        assert session_rows.progress(casebook) == []
        assert verification.verify(casebook).ok
        assert chain_holds(casebook)

    def test_one_of_three_is_changed_and_the_others_are_the_same_sound(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            listening, player = at_the_player(run, noise)
            for _ in range(5):
                listening.offer()
                trial, played = listening.current, player.loaded[-1]
                for place, sound in enumerate(played):
                    which = 1 + trial.size if place == trial.changed else 0
                    np.testing.assert_array_equal(sound, noise.sounds[which])
                assert not np.shares_memory(played[0], played[1])
                hear_all(listening, player)
                listening.answer(0)

    def test_which_one_is_changed_is_drawn_anew_each_time_and_stands_nowhere_before_the_answer(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        drawn = iter([2, 0, 1])
        with threshold_run.begin(casebook, ada, None, noise.sought, draw=lambda below: next(drawn)) as run:
            listening, player = at_the_player(run, noise)
            listening.offer()
            assert "changed" not in repr(listening.current)
            hear_all(listening, player)
            listening.poll()
            assert casebook.query("SELECT * FROM threshold_answers") == []
            player.counts = Faults(underruns=1)
            assert "starts afresh" in listening.poll()
            listening.offer()  # the disturbed trial again: of the same size, drawn anew
            assert (listening.current.trial, listening.current.changed) == (1, 0)
            hear_all(listening, player)
            listening.answer(0)
            listening.offer()
            assert listening.current.changed == 1
        assert [(one["kind"], one["count"]) for one in casebook.query("SELECT kind, count FROM faults")] == [
            ("underruns", 1)
        ]

    def test_the_order_is_drawn_evenly_by_the_systems_randomness(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        """600 draws: a share off 1/3 by four standard errors (0.077) comes about once in 5000 tests of three."""
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            drawn = [trial.changed for _ in range(600) if (trial := run.next_trial()) is not None]
        assert np.bincount(drawn, minlength=3) / 600 == pytest.approx([1 / 3] * 3, abs=0.077)

    def test_asked_for_is_not_heard_and_no_answer_is_taken_before_all_sounded(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            listening, player = at_the_player(run, noise)
            listening.offer()
            listening.hear(0)
            listening.now()
            listening.hear(1)
            player.at = Position(1, noise.sounds.shape[1] + 10, True)  # in the silence after the music
            assert listening.unheard() == [1, 2]
            with pytest.raises(ListenError, match="all of them must sound"):
                listening.answer(1)

    def test_a_run_that_was_stopped_goes_on_with_its_answers_and_another_sound_begins_another_run(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            listening, player = at_the_player(run, noise)
            assert go_through(listening, player, noticing(listening, 1.5, 1), most=7) == 7
            with pytest.raises(ListenError, match="Ada for a threshold is running in another window"):
                threshold_run.begin(casebook, ada, None, noise.sought)
        with threshold_run.begin(casebook, ada, None, noise.sought) as again:
            assert (again.kept.id, again.answered) == (run.kept.id, 7)
            trial = again.next_trial()
            assert trial is not None
            assert trial.size == own_thresholds.next_size(noise.sought, again.kept.answers)
        with threshold_run.begin(casebook, ada, None, of_noise(Band(2000, 1.0), "none: test", None).sought) as other:
            assert (other.kept.id != run.kept.id, other.answered) == (True, 0)
        with threshold_run.begin(casebook, ada, None, noise.sought, anew=True) as anew:
            assert anew.answered == 0
        what = [row["what"] for row in casebook.query("SELECT what FROM session_marks ORDER BY seq")]
        assert what == ["begun", "taken up", "begun", "begun"]

    def test_a_run_that_was_stopped_is_not_taken_up_on_another_device_nor_passed_over(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds
    ) -> None:
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            listening, player = at_the_player(run, noise)
            go_through(listening, player, lambda: 0, most=2)
        elsewhere = replace(noise.sought, device="another box")
        with pytest.raises(ListenError, match=r"after 2 of its answers on none: test, and this is another box.*--anew"):
            threshold_run.begin(casebook, ada, None, elsewhere)
        with threshold_run.begin(casebook, ada, None, elsewhere, anew=True) as anew:
            assert (anew.kept.id != run.kept.id, anew.sought.device) == (True, "another box")
        with threshold_run.begin(casebook, ada, None, noise.sought) as again:
            assert (again.kept.id, again.answered) == (run.kept.id, 2)
        assert [one.taken_up for one in threshold_rows.every(casebook)] == [1, 0]

    def test_an_answer_that_cannot_be_written_is_held_and_written_with_the_next_trial(
        self, casebook: Casebook, ada: Listener, noise: ThresholdSounds, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        with threshold_run.begin(casebook, ada, None, noise.sought) as run:
            listening, player = at_the_player(run, noise)
            listening.offer()
            hear_all(listening, player)

            def busy() -> None:
                raise CasebookBusy("in use")

            with monkeypatch.context() as held:
                held.setattr(Casebook, "writing", lambda _: busy())
                with pytest.raises(CasebookBusy):
                    listening.answer(0)
                assert listening.waiting
            assert casebook.query("SELECT * FROM threshold_answers") == []
            assert listening.offer()
            assert listening.current.trial == 2
        assert [row["trial"] for row in casebook.query("SELECT trial FROM threshold_answers")] == [1]

    def test_what_is_heard_at_a_known_level_counts_for_the_dose(self, casebook: Casebook, ada: Listener) -> None:
        made = of_noise(None, "none: test", 80.0)
        with threshold_run.begin(casebook, ada, None, made.sought) as run:
            listening, player = at_the_player(run, made)
            go_through(listening, player, lambda: 0, most=1)
        [heard] = session_rows.exposures(casebook, ada.id)
        assert heard.heard_ms == 1500
        assert heard.level_dba_hundredths == round(100 * (80 + threshold_sounds.LEVEL_DB[-1]))  # the loudest size

    def test_a_setup_with_a_threshold_stays(
        self, casebook: Casebook, ada: Listener, sallow: Setup, drums: Passage
    ) -> None:
        from sessions.plans import dependents

        made = of_passage(casebook, sallow, drums, None, "none: test", None)
        with threshold_run.begin(casebook, ada, sallow, made.sought):
            pass
        with pytest.raises(CatalogueError, match="has 1 threshold"):
            dependents.of_setup(casebook, sallow)
        [kept] = threshold_rows.every(casebook)
        assert (kept.setup_id, kept.sought) == (sallow.id, made.sought)
        [row] = casebook.query("SELECT document FROM thresholds")
        assert json.loads(row["document"])["told"] is False


class TestSimulatedListeners:
    @pytest.mark.parametrize("level", [False, True])
    def test_the_interval_holds_known_thresholds_as_often_as_it_says(self, level: bool) -> None:
        """40 runs as at the chair: 38 on average; 33 or fewer of 40 come once in 600 where 95 % is true (binomial)."""
        search, listener = chair_search(level=level), SimulatedListener(0.6 if level else 1.5, 2.0, 0.03)
        done = rehearse(search, listener, 40, 7)
        assert done.held >= 34
        values = [one.value for one in done.found if one.value is not None]
        assert len(values) >= 36
        assert abs(float(np.mean([log2(value / listener.notices_db) for value in values]))) < 0.25
        assert all(search.fewest <= one.trials <= search.most for one in done.found)

    def test_who_notices_nothing_and_who_notices_all_have_no_threshold_among_the_sizes(self) -> None:
        search = chair_search(level=False)
        places = {
            notices: {one.place for one in rehearse(search, SimulatedListener(notices), 5, 3).found}
            for notices in (100.0, 0.01)
        }
        assert places == {100.0: {"above"}, 0.01: {"below"}}

    def test_a_threshold_beyond_an_interval_is_not_held(self) -> None:
        [found] = rehearse(chair_search(level=False), SimulatedListener(1.5), 1, 3).found
        assert holds(found, 1.5, 0.18, 12)
        assert not holds(found, 6.0, 0.18, 12)
        assert not holds(found, 0.3, 0.18, 12)


def test_the_effect_of_a_lift_is_its_mean_in_the_band_above_the_half_of_the_range_that_it_leaves_most_alone() -> None:
    """By the filter's response on a fine grid, summed here: 24 points an octave do, to a tenth."""
    hz = log_grid(100, 10_000, 500)
    db = 20 * np.log10(np.abs(peaking(hz, 1000, 6.0, 1.0)))
    inside = (hz >= 707) & (hz <= 1414)
    expected = float(np.mean(db[inside]) - np.mean(np.sort(db)[: len(db) // 2]))
    assert effect_of_lift_db(1000, 6.0, 1.0, 707, 1414) == pytest.approx(expected, abs=0.1)
    assert effect_of_lift_db(1000, -6.0, 1.0, 707, 1414) == pytest.approx(-expected, abs=0.1)
