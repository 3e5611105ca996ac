"""A run for the highest tone noticed: what is played, what is kept, what is found, and what it says beside a band."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import log2

import numpy as np
import pytest

from audio.engine.playback import Audition, Position
from sessions.casebook import catalogue, hearing_rows, playback_chain, session_rows, threshold_rows
from sessions.casebook.catalogue import Listener
from sessions.casebook.hearing_rows import KeptReach, Reach
from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import hearing_sounds, players, threshold_run
from sessions.listening.hearing_sounds import TONES_HZ, HearingSounds, SetLevel, made, rate_for, tones_at
from sessions.listening.simulated_reach import EndsAt, chair_search, rehearse
from sessions.listening.threshold_listening import ThresholdListening
from sessions.measured import own_reach, own_thresholds
from sessions.results import verification
from tests.casebooks import chain_holds, rewritten
from tests.fakes import SilentPlayer, at_once

Run = threshold_run.ThresholdRun[Reach]
Choose = Callable[[Run, int], bool]
QUIET = SetLevel(-44.0)


@pytest.fixture
def ada(casebook: Casebook) -> Listener:
    return catalogue.add_listener(casebook, "Ada")


@pytest.fixture(scope="module")
def tones() -> HearingSounds:
    return made(QUIET, "none: test", 48_000)


def ending_at(ends_hz: float) -> Choose:
    """Who is right of all tones up to one, and of a third of those above it."""
    return lambda run, tone_hz: tone_hz <= ends_hz or run.answered % 3 == 0


def answered(casebook: Casebook, listener: Listener, sought: Reach, right: Choose, most: int = 100) -> KeptReach:
    """A run answered without a player, up to its end or so many trials."""
    with threshold_run.begin(casebook, listener, None, sought, anew=True) as run:
        while run.answered < most and (trial := run.next_trial()) is not None:
            is_right = right(run, sought.tones_hz[trial.size])
            run.answering(trial, trial.changed if is_right else (trial.changed + 1) % 3, 900, [1, 1, 1])()
    return next(one for one in hearing_rows.every(casebook) if one.id == run.kept.id)


class TestSounds:
    def test_tones_are_preferred_numbers_a_twelfth_of_an_octave_apart(self) -> None:
        """R40 (ISO 3, from memory): 40 a decade; each rounded value lies within 1.5 % of its exact one."""
        exact = [10 ** ((172 - place) / 40) for place in range(29)]
        assert np.abs(np.array(TONES_HZ) / np.array(exact) - 1).max() < 0.015

    def test_no_tone_lies_where_a_rates_filters_begin(self) -> None:
        assert tones_at(48_000) == TONES_HZ
        assert tones_at(44_100)[0] == 19_000  # 0.45 of it is 19 845 Hz
        assert made(QUIET, "none: test", 44_100).sought.tones_hz[0] == 19_000
        assert (rate_for({44_100, 48_000}), rate_for({44_100, 22_050})) == (48_000, 44_100)
        with pytest.raises(ListenError, match="takes no usual sample rate"):
            rate_for({22_050})

    def test_all_tones_have_the_level_that_was_set_and_a_loud_one_is_refused(self, tones: HearingSounds) -> None:
        assert tones.sounds.shape == (1 + len(TONES_HZ), 48_000, 2)
        middle = tones.sounds[1:, 20_000:28_000, 0].astype(np.float64)  # where no ramp is, 2 dither steps rms
        rms_db = 10 * np.log10(2 * np.mean(np.square(middle), axis=1))
        assert np.abs(rms_db - QUIET.level_dbfs).max() < 0.05
        assert np.abs(tones.sounds[:, :, 1]).max() < 2**-14  # the right side is silent
        for level, says in ((SetLevel(-19.9), "no tone above -20 dBFS"), (SetLevel(-40, 70.5), "above 70, the most")):
            with pytest.raises(ListenError, match=says):
                made(level, "none: test", 48_000)

    def test_the_tone_that_sets_the_level_begins_far_down_and_ends_at_the_limit(self) -> None:
        levels = hearing_sounds.levels_dbfs()
        assert (levels[0], levels[-1]) == (-74, -20)
        assert set(np.diff(levels)) == {3.0}
        sounds = hearing_sounds.level_tones(48_000, 1, "both")
        peaks_db = 20 * np.log10(np.abs(sounds[:, :, 0]).max(axis=1))
        np.testing.assert_allclose(peaks_db[6:], levels[6:], atol=0.2)  # the dither adds at most a step


class TestRun:
    def test_a_planted_listener_is_found_at_the_player_and_the_record_holds(
        self, casebook: Casebook, ada: Listener, tones: HearingSounds
    ) -> None:
        rng, player = np.random.default_rng(2), SilentPlayer()
        with threshold_run.begin(casebook, ada, None, tones.sought) as run:
            listening = ThresholdListening(run, player, tones, sleep=at_once)
            while listening.offer():
                trial = listening.current
                for place, sound in enumerate(player.loaded[-1]):
                    which = 1 + trial.size if place == trial.changed else 0
                    assert np.array_equal(sound, tones.sounds[which])
                    listening.hear(place)
                    assert player.asked[-1] == f"play {place} from 0"
                    player.heard.append(Audition(place, 0, 48_000))
                listening.poll()
                right = rng.random() < EndsAt(13_000, 25).listener.right(tones.sought.steps[trial.size])
                named = trial.changed if right else (trial.changed + 1 + int(rng.integers(2))) % 3
                assert listening.answer(named) == ""
        [kept] = hearing_rows.every(casebook)
        found = own_reach.reached(kept)
        assert (kept.complete, kept.sought, found.place) == (True, tones.sought, "within")
        assert found.low_hz is not None
        assert found.high_hz is not None
        assert found.low_hz < 13_000 < found.high_hz
        assert threshold_rows.every(casebook) == []
        assert session_rows.exposures(casebook, ada.id) == []  # nobody knows how loud it was
        assert verification.verify(casebook).ok
        assert chain_holds(casebook)

    def test_a_presentation_counts_as_heard_once_its_tone_would_be_over(
        self, casebook: Casebook, ada: Listener, tones: HearingSounds
    ) -> None:
        player = SilentPlayer()
        with threshold_run.begin(casebook, ada, None, tones.sought) as run:
            listening = ThresholdListening(run, player, tones, sleep=at_once)
            listening.offer()
            listening.hear(0)
            player.at, player.heard = Position(0, 35_999, True), [Audition(0, 0, 35_999)]
            listening.poll()
            assert listening.unheard() == [0, 1, 2]
            player.at = Position(0, 36_000, True)
            assert listening.unheard() == [1, 2]

    def test_at_a_level_that_was_read_what_is_heard_counts_for_the_dose(
        self, casebook: Casebook, ada: Listener
    ) -> None:
        sounds, player = made(SetLevel(-44.0, 62.0), "none: test", 48_000), SilentPlayer()
        with threshold_run.begin(casebook, ada, None, sounds.sought) as run:
            listening = ThresholdListening(run, player, sounds, sleep=at_once)
            listening.offer()
            player.heard = [Audition(0, 0, 48_000)]
            listening.poll()
        [heard] = session_rows.exposures(casebook, ada.id)
        assert (heard.heard_ms, heard.level_dba_hundredths) == (1000, 6200)

    def test_who_notices_no_tone_and_who_notices_all_are_told_so(
        self, casebook: Casebook, ada: Listener, tones: HearingSounds
    ) -> None:
        none = answered(casebook, ada, tones.sought, ending_at(0))
        every = answered(casebook, ada, tones.sought, ending_at(30_000))
        assert [own_reach.reached(one).place for one in (none, every)] == ["below", "above"]
        assert own_reach.ended_in_words(none) == "not noticed down to 4 kHz, the lowest tone"
        assert own_reach.ended_in_words(every) == "noticed up to 20 kHz, the highest tone"
        assert (own_reach.ends_hz(none), own_reach.ends_hz(every)) == ((0, 4000), (20_000, np.inf))
        assert own_thresholds.doubt(none) == own_thresholds.doubt(every) == ""

    def test_a_stopped_run_goes_on_at_its_level_and_another_level_begins_another(
        self, casebook: Casebook, ada: Listener, tones: HearingSounds
    ) -> None:
        stopped = answered(casebook, ada, tones.sought, ending_at(12_000), most=5)
        with threshold_run.begin(casebook, ada, None, tones.sought) as again:
            assert (again.kept.id, again.answered) == (stopped.id, 5)
        louder = made(SetLevel(-41.0), "none: test", 48_000).sought
        with threshold_run.begin(casebook, ada, None, louder) as other:
            assert (other.kept.id != stopped.id, other.answered) == (True, 0)

    def test_answers_turned_round_are_found_by_verify(
        self, casebook: Casebook, ada: Listener, tones: HearingSounds
    ) -> None:
        kept = answered(casebook, ada, tones.sought, ending_at(12_000))
        edited = replace(
            kept, answers=(replace(kept.answers[0], named=(kept.answers[0].changed + 1) % 3), *kept.answers[1:])
        )
        assert own_thresholds.faults(kept) == []
        [fault] = own_thresholds.faults(edited)
        assert " Hz, where the answers before it lead to something else" in fault
        rewritten(casebook, "UPDATE threshold_answers SET named = (changed + 1) % 3 WHERE trial < 9")
        assert any(f"the run {kept.id} of hearing: trial" in one for one in verification.verify(casebook).broken)


NAMES = {"ada": "Ada", "bo": "Bo"}


class TestRemarks:
    @pytest.fixture
    def kept(self, casebook: Casebook, ada: Listener, tones: HearingSounds) -> KeptReach:
        return replace(answered(casebook, ada, tones.sought, ending_at(13_500)), listener_id="ada")

    def said(self, runs: list[KeptReach], low_hz: float, high_hz: float, *who: str) -> list[str]:
        return own_reach.remarks(runs, who or ("ada",), NAMES, low_hz, high_hz)

    def test_only_bands_above_where_it_ended_get_one_and_it_is_told_with_its_interval_and_chain(
        self, kept: KeptReach
    ) -> None:
        low, high = own_reach.ends_hz(kept)
        assert 11_000 < low < 13_500 < high < 16_000
        [told] = self.said([kept], 16_000, 20_000)
        assert told.startswith(
            f"Ada's own check of {kept.at[:10]}, of tones (quiet by ear) through none: test, ended at "
        )
        assert told.endswith(f"({own_reach.khz(low)} to {own_reach.khz(high)}); this band begins above it")
        assert self.said([kept], high, 20_000)[0].endswith("begins above it")
        assert self.said([kept], high - 1, 20_000)[0].endswith("begins about there")
        assert self.said([kept], low - 1, low + 100) == []
        # more than half of it, in octaves, above the interval's upper end
        half = high**2 / 20_000
        assert self.said([kept], half * 1.01, 20_000)[0].endswith("lies mostly above it")
        assert self.said([kept], half * 0.99, 20_000) == []
        assert self.said([kept], 4000, 8000) == []

    def test_the_newest_run_that_counts_speaks_and_of_each_listener_their_own(self, kept: KeptReach) -> None:
        older = replace(kept, at="2020-01-01T00:00:00Z", sought=replace(kept.sought, device="old box"))
        stopped = replace(kept, at="2099-01-01T00:00:00Z", complete=False)
        [told] = self.said([older, stopped, kept], 16_000, 20_000)
        assert kept.at[:10] in told
        assert self.said([older, kept], 16_000, 20_000, "bo") == []
        bos = replace(kept, listener_id="bo")
        assert [one[:3] for one in self.said([kept, bos], 16_000, 20_000, "ada", "bo")] == ["Ada", "Bo'"]

    def test_a_run_that_tells_nothing_of_hearing_and_one_that_reached_the_highest_tone_say_nothing(
        self, casebook: Casebook, ada: Listener, tones: HearingSounds, kept: KeptReach
    ) -> None:
        always_a = replace(kept, answers=tuple(replace(one, named=0) for one in kept.answers))
        assert own_thresholds.doubt(always_a)
        assert self.said([always_a], 16_000, 20_000) == []
        every = replace(answered(casebook, ada, tones.sought, ending_at(30_000)), listener_id="ada")
        assert self.said([every], 20_000, 22_000) == []
        none = replace(answered(casebook, ada, tones.sought, ending_at(0)), listener_id="ada")
        assert (
            "ended so: not noticed down to 4 kHz, the lowest tone; this band begins above it"
            in self.said([none], 5000, 20_000)[0]
        )


class TestSimulatedListeners:
    def test_the_interval_holds_known_ends_as_often_as_it_says(self) -> None:
        """60 runs: 57 on average; 50 or fewer of 60 come once in 300 where 95 % is true (binomial)."""
        held = 0
        for ends_hz, slope, slips in ((6000.0, 12.0, 0.0), (13_000.0, 25.0, 0.05), (16_500.0, 60.0, 0.0)):
            done = rehearse(EndsAt(ends_hz, slope, slips), 20, 5)
            held += done.held
            ended = [TONES_HZ[0] / one.value for one in done.found if one.value is not None]
            assert len(ended) >= 19
            assert abs(float(np.mean([log2(one / ends_hz) for one in ended]))) < 0.05
        assert held > 50

    def test_who_guesses_is_told_that_no_tone_was_noticed(self) -> None:
        places = [one.place for one in rehearse(EndsAt(2000.0, 60.0), 15, 1).found]
        assert places.count("above") >= 13  # of the steps: not even the lowest tone
        assert chair_search().steps[-1] == 5

    def test_what_is_out_of_range_is_refused(self) -> None:
        for wrong in (EndsAt(10.0), EndsAt(9000, 0.5), EndsAt(9000, 20, 1.5)):
            with pytest.raises(ListenError, match="is out of range"):
                rehearse(wrong, 1, 1)


@pytest.mark.parametrize("chain", [None, playback_chain.routed("box:3,4")])
def test_presentations_fade_longer_than_music_does(
    chain: playback_chain.PlaybackChain | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[object] = []
    monkeypatch.setattr("audio.engine.player.Player", lambda *_, **how: asked.append(how["fade_s"]))
    players.player_on([chain], None, fade_s=hearing_sounds.FADE_S)
    players.player_on([chain], None)
    assert asked == [0.05, 0.005]
