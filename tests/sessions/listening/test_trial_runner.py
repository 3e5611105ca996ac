"""A session at a player that plays nothing: what is loaded, shown, taken back and kept."""

from __future__ import annotations

import numpy as np
import pytest

from audio.clip import Clip
from audio.engine.playback import Audition, Faults, Position
from audio.files import reading, writing
from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import session
from sessions.listening.trial_runner import PAUSE_AFTER_S, TrialRunner
from sessions.plans import drafting, seals
from sessions.plans.plan_rows import Wish
from sessions.preparation import match_files, prepared_audio
from sessions.preparation.selection import select
from tests.fakes import SilentPlayer, at_once

MOST_OFFERS = 64  # fair coins all fall alike so often once in 2^63


def test_x_is_its_own_copy_of_what_the_key_says(sealed: Casebook) -> None:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        seen = set()
        while seen != {0, 1}:
            offered = runner.offer()
            assert offered is not None
            assert offered.offer <= MOST_OFFERS
            a, b, x = player.loaded[-1]
            twin = (a, b)[offered.key["X"]]
            np.testing.assert_array_equal(x, twin)
            assert not np.shares_memory(x, twin)
            assert not np.array_equal(a, b)
            assert x.dtype == np.float32
            seen.add(offered.key["X"])
            running.fault(offered, "underruns", 1, "so that the trial comes back with a fresh coin")


def test_what_may_be_shown_is_the_same_for_both_keys(sealed: Casebook) -> None:
    shown: dict[int, set[object]] = {0: set(), 1: set()}
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once, monotonic=lambda: 0.0)
        while not (shown[0] and shown[1]):
            offered = runner.offer()
            assert offered is not None
            assert offered.offer <= MOST_OFFERS
            player.at = Position(None, 0, False)
            runner.hear("X")
            now = runner.now()
            shown[offered.key["X"]].add(
                (now.playing, now.position_s, now.length_s, now.paused, now.heard, now.rest_due)
            )
            running.fault(offered, "underruns", 1, "so that the trial comes back with a fresh coin")
    assert shown[0] == shown[1] != set()


@pytest.mark.parametrize(
    ("faults", "says"),
    [(Faults(underruns=1), "(1 underrun)"), (Faults(underruns=2, stalls=1), "(2 underruns and 1 stall)")],
)
def test_faults_are_counted_in_words(sealed: Casebook, faults: Faults, says: str) -> None:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        runner.offer()
        player.counts = faults
        assert says in (runner.poll() or "")


def test_what_disturbed_a_trial_is_said_until_it_is_heard_again_and_counted_until_an_answer_is_kept(
    sealed: Casebook,
) -> None:
    player, said = SilentPlayer(), []
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        for underruns in (1, 2, 3):
            runner.offer()
            runner.hear("X")
            assert runner.disturbed == ""
            player.counts = Faults(underruns=underruns)
            runner.poll()
            runner.offer()
            said.append(runner.disturbed)
        assert ["in a row" in text for text in said] == [False, False, True]
        assert all("(1 underrun)" in text for text in said)
        runner.hear("X")
        assert runner.answer("A", 4) is None
        runner.offer()
        player.counts = Faults(underruns=4)
        assert "in a row" not in (runner.poll() or "in a row")


def test_a_fault_takes_the_answer_back_and_offers_the_trial_again(sealed: Casebook) -> None:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        first = runner.offer()
        runner.hear("X")
        player.heard = [Audition(2, 0, 9600)]
        assert runner.poll() is None
        player.counts = Faults(underruns=3)
        said = runner.answer("A", 4)
        assert said is not None
        assert "3 underruns" in said
        second = runner.offer()
        assert first is not None
        assert second is not None
        assert (second.trial, second.offer) == (1, 2)
        assert runner.poll() is None  # counted once
        runner.hear("X")
        assert runner.answer("A", 4) is None
    assert [row["kind"] for row in sealed.query("SELECT kind FROM faults")] == ["underruns"]
    assert sealed.query("SELECT count(*) AS n FROM answers")[0]["n"] == 1
    assert sealed.query("SELECT stimulus, to_frame FROM auditions") == [{"stimulus": "X", "to_frame": 9600}]


def test_each_trial_is_announced_by_its_number_alone(sealed: Casebook) -> None:
    announced: list[int] = []
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, SilentPlayer(), sleep=at_once, announce=announced.append)
        for _ in range(2):
            runner.offer()
            runner.answer("A", 1)
    assert announced == [1, 2]


def test_an_answer_needs_to_have_heard_and_a_rest_suggests_itself(sealed: Casebook) -> None:
    clock = [0.0]
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, SilentPlayer(), sleep=at_once, monotonic=lambda: clock[0])
        runner.offer()
        assert not runner.may_answer()
        runner.hear("A")
        assert not runner.may_answer()
        runner.hear("X")
        assert runner.may_answer()
        assert not runner.now().rest_due
        clock[0] = PAUSE_AFTER_S + 1
        assert PAUSE_AFTER_S == 20 * 60
        assert runner.now().rest_due
        runner.rested()
        assert not runner.now().rest_due
        with pytest.raises(ListenError, match="no answer here"):
            runner.answer("C", 1)
        with pytest.raises(ListenError, match="sureness 5 is out of range"):
            runner.answer("A", 5)
    assert sealed.query("SELECT * FROM answers") == []


def test_prepared_audio_that_is_not_what_was_sealed_is_not_played(sealed: Casebook) -> None:
    for path in sealed.prepared.glob("*.wav"):
        data = bytearray(path.read_bytes())
        data[-1] ^= 1
        path.write_bytes(data)
    with (
        session.begin(sealed, "evening", "Ada", "none") as running,
        pytest.raises(ListenError, match="not what was sealed"),
    ):
        TrialRunner(running, SilentPlayer(), sleep=at_once).offer()


def test_prepared_audio_is_rebuilt_to_the_same_bytes(sealed: Casebook) -> None:
    before = {path.name: path.read_bytes() for path in sealed.prepared.glob("*.wav")}
    for path in sealed.prepared.glob("*.wav"):
        path.unlink()
    match_files.make_match_sheet(sealed, select(sealed, [], []))
    assert {path.name: path.read_bytes() for path in sealed.prepared.glob("*.wav")} == before
    with session.begin(sealed, "evening", "Ada", "none") as running:
        assert TrialRunner(running, SilentPlayer(), sleep=at_once).offer() is not None


def test_a_preference_needs_both_and_hides_which_is_which(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("preference", ("sallow", "bracken"), listeners=("Ada",), trials=6), "liking")
    seals.seal(casebook, "liking")
    player = SilentPlayer()
    with session.begin(casebook, "liking", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        firsts = []
        while (offered := runner.offer()) is not None:
            firsts.append(offered.key["1"])
            assert not np.array_equal(player.loaded[-1][0], player.loaded[-1][1])
            runner.hear("1")
            assert not runner.may_answer()
            runner.hear("2")
            assert runner.may_answer()
            runner.answer("1", 2)
    assert len(firsts) == 6


def test_a_switch_that_fails_names_no_setup_on_the_screen_and_is_kept_with_what_it_said(sealed: Casebook) -> None:
    player = SilentPlayer()
    player.trouble = lambda: "the switch's command 'relay bracken' failed"  # type: ignore[method-assign]
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        runner.offer()
        runner.hear("X")
        player.counts = Faults(switch_failures=1)
        said = runner.poll()
    assert said == ("The switch failed and is tried for every setup: this trial starts afresh, in fresh random order.")
    assert "bracken" in sealed.query("SELECT detail FROM faults")[0]["detail"]


def test_a_file_that_is_missing_stops_every_trial_of_its_passage_heard_in_it_or_not(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("same-different", ("sallow", "bracken"), listeners=("Ada",), trials=8), "alike")
    plan = seals.seal(casebook, "alike").plan
    for passage in plan.passages:
        (casebook.prepared / passage.files[plan.setups[1].id]).unlink()
    with session.begin(casebook, "alike", "Ada", "none") as running:
        runner = TrialRunner(running, SilentPlayer(), sleep=at_once)
        for _ in range(8):  # with fresh coins, one of which is that of the first setup twice
            with pytest.raises(ListenError, match="missing or not what was sealed"):
                runner.offer()
            running.fault(runner.current, "underruns", 1, "so that the trial comes back with a fresh coin")


def test_files_of_unequal_length_are_refused_whatever_is_heard(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("same-different", ("sallow", "bracken"), listeners=("Ada",), trials=2), "alike")
    plan = seals.seal(casebook, "alike").plan
    passage = plan.passages[0]
    first, second = (casebook.prepared / passage.files[setup.id] for setup in plan.setups)
    sound = reading.read(second)
    writing.write(second, Clip(sound.samples[:-1], sound.rate_hz), dither=False)
    sealed = [prepared_audio.SealedFile(reading.sha256(path), path.name) for path in (first, second)]
    with pytest.raises(ListenError, match="are not equally long"):
        prepared_audio.sounds(casebook, passage.name, sealed, None)


def test_a_known_difference_plays_from_its_own_file_where_the_first_setup_plays(casebook: Casebook) -> None:
    wish = Wish("abx", ("sallow", "bracken"), listeners=("Ada",), trials=6, known=6, lift_hz=2000, lift_db="6")
    drafting.draft(casebook, wish, "evening")
    plan = seals.seal(casebook, "evening").plan
    player, heard = SilentPlayer(), set()
    with session.begin(casebook, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        while (offered := runner.offer()) is not None:
            files = [offered.passage.files[source] for source in plan.sources]
            sounds = [reading.read(casebook.prepared / file).samples.astype(np.float32) for file in files]
            assert len(sounds) == 3
            for label, played in zip("ABX", player.loaded[-1], strict=True):
                np.testing.assert_array_equal(played, sounds[offered.key[label]])
            assert player.places[-1] == [0 if place == 2 else place for place in offered.key.values()]
            heard.add(plan.is_known(offered.key))
            runner.hear("X")
            assert runner.now().trials == 12  # it is not told which of them count
            assert runner.answer("A", 1) is None
    assert heard == {True, False}


def test_a_stimulus_is_heard_once_it_sounds_and_not_when_it_is_asked_for(sealed: Casebook) -> None:
    """As behind an outside switch: silence, then the sound; asked for in the silence after the passage; then cut."""
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        offered = runner.offer()
        assert offered is not None
        frames = offered.passage.frames
        runner.hear("X")
        for silent in (Position(None, 0, False), Position(2, frames, True), Position(2, frames + 9, True)):
            player.at = silent
            assert runner.now().heard == frozenset()
            assert not runner.may_answer()
        player.at = Position(2, frames - 1, True)
        assert runner.may_answer()
        assert runner.now().heard == {"X"}
        player.at = Position(None, 0, False)
        player.heard = [Audition(0, 0, 900)]  # shorter than what is looked at
        runner.poll()
        assert runner.now().heard == {"A", "X"}
        running.fault(offered, "underruns", 1, "so that the trial comes back")
        runner.offer()
        assert runner.now().heard == frozenset()


def test_a_loop_lies_in_its_passage_is_kept_for_it_and_never_leads_into_another(sealed: Casebook) -> None:
    player = SilentPlayer()
    loops: dict[str, tuple[int, int]] = {}
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        while (offered := runner.offer()) is not None:
            passage = offered.passage
            told = [asked for asked in player.asked if asked.startswith("loop")]
            player.asked.clear()
            if passage.id in loops:
                first, end = loops[passage.id]
                assert told == [f"loop {first} {end}"]
                assert runner.now().loop_s == (first / passage.rate_hz, end / passage.rate_hz)
            else:
                assert told == []
                assert runner.now().loop_s is None
                runner.hear("X")
                first, end = passage.frames // 4 + len(loops), passage.frames // 2 + 1
                player.at = Position(2, first, True)
                assert runner.loop_from_here() == ""
                player.at = Position(2, first + round(0.4999 * passage.rate_hz), True)
                assert "0.5 s at least" in runner.loop_to_here()
                player.at = Position(2, end, True)
                assert runner.loop_to_here() == ""
                player.at = Position(2, end + 700, True)  # in the silence after it
                assert runner.now().position_s == end / passage.rate_hz
                assert player.asked[1:] == [f"loop {first} {passage.frames}", f"loop {first} {end}"]
                player.asked.clear()
                loops[passage.id] = first, end
            runner.answer("A", 1)
    assert len(loops) > 1


def test_without_a_loop_the_whole_passage_is_played_again(sealed: Casebook) -> None:
    player = SilentPlayer()
    with session.begin(sealed, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, player, sleep=at_once)
        offered = runner.offer()
        assert offered is not None
        frames = offered.passage.frames
        player.at = Position(2, frames // 2, True)
        runner.loop_from_here()
        runner.no_loop()
        assert runner.now().loop_s is None
        assert player.asked == [f"loop {frames // 2} {frames}", f"loop 0 {frames}"]
