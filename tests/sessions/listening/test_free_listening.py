"""Free listening at a silent player: all is aligned and equally loud, what is said is sighted, nothing counts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.engine.playback import Audition, Faults, Position
from audio.errors import DeviceError
from audio.files import reading, writing
from sessions.casebook import catalogue, free_rows, session_rows
from sessions.casebook.catalogue import Listener, Passage, Setup, Track
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.errors import CatalogueError, ListenError
from sessions.listening import free_session, free_sounds, players, session
from sessions.listening.free_listening import FreeListening, Moment
from sessions.plans import overview
from sessions.preparation import match_sheet, recording_folder
from sessions.results import heard_freely, verification
from sessions.words import log
from tests.casebooks import chain_holds
from tests.fakes import SilentPlayer
from tests.real_gear import match_volts

RATE_HZ = 48_000


@pytest.fixture
def ada(casebook: Casebook) -> Listener:
    return catalogue.listener_named(casebook, "Ada")


@pytest.fixture
def setups(casebook: Casebook) -> tuple[Setup, ...]:
    return tuple(catalogue.find(casebook, Setup, name) for name in ("sallow", "bracken"))


@pytest.fixture
def passage(casebook: Casebook) -> Passage:
    return catalogue.find(casebook, Passage, "drums 1")


@pytest.fixture
def player() -> SilentPlayer:
    return SilentPlayer()


@pytest.fixture
def evening(
    casebook: Casebook, ada: Listener, setups: tuple[Setup, ...], passage: Passage, player: SilentPlayer
) -> Iterator[FreeListening]:
    with free_session.begin(casebook, ada, setups, "none: test") as begun:
        listening = FreeListening(begun, player)
        listening.load(free_sounds.ready(casebook, setups, free_sounds.of_passage(casebook, passage)))
        yield listening


def at(player: SilentPlayer, setup: int, seconds: float) -> None:
    player.at = Position(setup, round(seconds * RATE_HZ), True)


def test_a_passage_plays_the_files_of_its_match_sheet(
    casebook: Casebook, evening: FreeListening, player: SilentPlayer, setups: tuple[Setup, ...], passage: Passage
) -> None:
    matched = next(match_sheet.newest_first(casebook)).record.passage(passage.id)
    assert matched is not None
    files = {one.setup: casebook.prepared / one.file for one in matched.prepared.setups}
    for setup, played in zip(setups, player.loaded[-1], strict=True):
        np.testing.assert_array_equal(played, reading.read(files[setup.id]).samples.astype(np.float32))
    assert player.places[-1] == [0, 1]


def test_a_passage_whose_prepared_files_are_gone_is_made_ready_again_alike(
    casebook: Casebook, setups: tuple[Setup, ...], passage: Passage
) -> None:
    stretch = free_sounds.of_passage(casebook, passage)
    before = free_sounds.ready(casebook, setups, stretch).sounds
    for path in casebook.prepared.glob("*.wav"):
        path.unlink()
    again = free_sounds.ready(casebook, setups, stretch)
    np.testing.assert_array_equal(again.sounds, before)
    assert list(casebook.prepared.iterdir()) == []  # an evening leaves no file behind


def test_a_word_is_sighted_and_says_of_which_setup_and_where_in_the_track(
    casebook: Casebook, evening: FreeListening, player: SilentPlayer, passage: Passage
) -> None:
    evening.hear(1)
    at(player, 1, 0.75)
    moment = evening.moment()
    assert moment is not None
    at(player, 0, 1.5)  # the music went on while it was typed
    assert evening.keep_word("Métallique", 4, moment)
    (word,) = log.words(casebook)
    start_ms = 1000 * passage.start_frame // passage.rate_hz
    assert (word.term, word.strength, word.setup, word.track) == ("Métallique", 4, "bracken", "drums")
    assert (word.track_ms, word.passage, word.session) == (start_ms + 750, "drums 1", evening.session.id)
    assert (word.blind, word.trial) == (False, None)


def test_in_silence_there_is_no_moment(evening: FreeListening, player: SilentPlayer) -> None:
    assert evening.moment() is None
    evening.hear(0)
    evening.pause()
    assert evening.moment() is None


def test_it_never_counts_and_the_record_holds(
    sealed: Casebook, setups: tuple[Setup, ...], passage: Passage, player: SilentPlayer
) -> None:
    """A sealed plan of the same setups, for the same listener, is as it was; its own session is begun afterwards."""
    ada = catalogue.find(sealed, Listener, "Ada")
    before = overview.gather(sealed).plans
    with free_session.begin(sealed, ada, setups, "none: test") as begun:
        listening = FreeListening(begun, player)
        listening.load(free_sounds.ready(sealed, setups, free_sounds.of_passage(sealed, passage)))
        listening.hear(0)
        player.heard = [Audition(0, 0, 96_000), Audition(1, 96_000, 120_000), Audition(1, 120_000, 120_000)]
        listening.leave()
        begun.mark("complete")
    (row,) = sealed.query("SELECT plan_id, rehearsal FROM sessions")
    assert row["plan_id"] is None
    assert '"free listening"' in row["rehearsal"]
    assert session_rows.progress(sealed) == []
    assert overview.gather(sealed).plans == before
    assert [(one.setup, one.heard_s) for one in overview.gather(sealed).heard_freely] == [
        ("sallow", 2.0), ("bracken", 0.5),
    ]  # fmt: skip
    assert verification.verify(sealed).ok
    assert chain_holds(sealed)


def test_what_was_heard_freely_before_a_plan_stands_beside_its_verdict_apart_from_what_came_later(
    sealed: Casebook, setups: tuple[Setup, ...], passage: Passage
) -> None:
    ada, track = catalogue.find(sealed, Listener, "Ada"), catalogue.find(sealed, Track, "drums")
    plan = overview.plan_rows.every_sealed(sealed)[0].plan
    assert heard_freely.sentences(sealed, plan) == []
    new = free_rows.new_session(ada.id, [setup.id for setup in setups], "none: test")
    sealed.append_many([new])
    sealed.append_many([free_rows.new_audition(new.id, setups[1].id, track.id, "drums 1", 1000, 66_000)])
    with session.begin(sealed, "evening", "Ada", "none: test") as begun:
        begun.next_trial()
    sealed.append_many([free_rows.new_audition(new.id, setups[0].id, track.id, "drums 1", 0, 9000)])
    said, later = heard_freely.sentences(sealed, plan)
    assert later.startswith(
        "With the first of 8 trials begun and not answered Ada listened freely and sighted to: sallow"
    )
    assert said.startswith("Before their own first trial Ada had heard freely and sighted: bracken for 1:05 (last on ")


def test_a_loop_is_the_players_own_and_nothing_is_brought_to_it_again(
    casebook: Casebook, evening: FreeListening, player: SilentPlayer, passage: Passage
) -> None:
    start_s, frames = passage.start_frame / passage.rate_hz, evening.loaded.frames
    evening.hear(1)
    at(player, 1, 0.5)
    assert evening.loop_from_here() == ""
    at(player, 1, 1.25)
    assert evening.loop_to_here() == ""
    assert player.asked == ["play 1", f"loop 24000 {frames}", "loop 24000 60000"]
    assert len(player.loaded) == 1  # the sound is not interrupted to load a part
    assert evening.now().loop == (start_s + 0.5, start_s + 1.25)
    player.heard = [Audition(1, 24_000, 60_000)]
    evening.poll()
    (heard,) = casebook.query("SELECT from_ms, to_ms FROM free_auditions")
    assert (heard["from_ms"], heard["to_ms"]) == (round(1000 * start_s) + 500, round(1000 * start_s) + 1250)
    evening.seek(-5)
    evening.seek(500)
    assert player.asked[-2:] == ["play 1 from 24000", "play 1 from 59999"]
    at(player, 1, 1.5)  # in the silence after the loop
    moment = evening.moment()
    assert moment is not None
    assert moment.track_ms == round(1000 * (start_s + 1.25))
    evening.no_loop()
    assert (player.asked[-1], evening.now().loop) == (f"loop 0 {frames}", None)


def test_a_loop_stays_in_its_stretch_until_it_is_left_and_comes_back_with_it_and_with_a_lost_device(
    casebook: Casebook, evening: FreeListening, player: SilentPlayer, setups: tuple[Setup, ...]
) -> None:
    at(player, 0, 1.0)
    evening.loop_to_here()
    here = evening.loaded
    evening.load(
        free_sounds.ready(
            casebook, setups, free_sounds.of_passage(casebook, catalogue.find(casebook, Passage, "strings 1"))
        )
    )
    assert evening.now().loop is None
    del player.asked[:]
    evening.load(here)
    assert player.asked == ["stop", "loop 0 48000"]
    player.counts = Faults(stalls=1)
    evening.poll()
    evening.hear(1)
    assert player.asked == ["stop", "loop 0 48000", "loop 0 48000", "play 1"]
    evening.go_to(Moment(0, round(1000 * here.stretch.start_s) + 2000))  # a word's moment lies outside
    assert player.asked[-2:] == [f"loop 0 {here.frames}", "play 0 from 96000"]


def test_a_loop_shorter_than_half_a_second_is_refused(evening: FreeListening, player: SilentPlayer) -> None:
    evening.hear(0)
    at(player, 0, 1.0)
    evening.loop_from_here()
    at(player, 0, 1.3)
    assert "a loop has 0.5 s at least" in evening.loop_to_here()
    assert evening.now().loop == (evening.loaded.stretch.start_s + 1.0, evening.now().end_s)


def test_seeking_stays_inside(evening: FreeListening, player: SilentPlayer) -> None:
    evening.seek(5)
    assert player.asked == []  # nothing sounds yet
    evening.hear(1)
    at(player, 1, 0.5)
    evening.seek(0.25)
    assert player.asked[-1] == "play 1 from 36000"
    at(player, 1, 0.5)
    evening.seek(-5)
    assert player.asked[-1] == "play 1 from 0"
    evening.seek(500)
    assert player.asked[-1] == f"play 1 from {player.loaded[-1][0].shape[0] - 1}"


def test_a_lost_device_is_asked_again_with_the_next_key(evening: FreeListening, player: SilentPlayer) -> None:
    evening.hear(0)
    player.counts = Faults(stalls=1)
    assert "disturbed (stalls)" in evening.poll()
    assert evening.poll() == ""
    evening.hear(1)
    assert len(player.loaded) == 2


def test_a_meter_reading_counts_into_the_dose(
    casebook: Casebook, ada: Listener, setups: tuple[Setup, ...], passage: Passage, player: SilentPlayer
) -> None:
    with free_session.begin(casebook, ada, setups, "none: test") as begun:
        listening = FreeListening(begun, player, level_dba=80)
        listening.load(free_sounds.ready(casebook, setups, free_sounds.of_passage(casebook, passage)))
        player.heard = [Audition(0, 0, 2 * RATE_HZ)]
        listening.leave()
    (heard,) = session_rows.exposures(casebook, ada.id)
    assert (heard.heard_ms, heard.level_dba_hundredths) == (2000, 8000)


def test_one_listener_listens_freely_in_one_place(
    casebook: Casebook, ada: Listener, setups: tuple[Setup, ...], evening: FreeListening
) -> None:
    with pytest.raises(ListenError, match="free listening of Ada"):
        free_session.begin(casebook, ada, setups, "none: test")


def rms(samples: np.ndarray) -> float:
    return float(np.sqrt(np.mean(samples.astype(float) ** 2)))


LATE_S, QUIETER_DB = 0.05, 6.0


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One noise-like piece of 8 s as two setups' recordings: the second 50 ms late and 6 dB quieter, nothing else."""
    home = tmp_path_factory.mktemp("planted")
    rng = np.random.default_rng(5)
    envelope = np.interp(np.arange(8 * RATE_HZ), np.arange(0, 8 * RATE_HZ, 4800), rng.uniform(0.1, 1, 80))
    piece = 0.1 * rng.standard_normal((8 * RATE_HZ, 2)) * envelope[:, None]
    late = np.concatenate([np.zeros((round(LATE_S * RATE_HZ), 2)), piece]) * 10 ** (-QUIETER_DB / 20)
    with create(home / "book") as casebook:
        for name, samples in (("first", piece), ("second", late)):
            (home / name).mkdir()
            writing.write(home / name / "reel.wav", Clip(samples, RATE_HZ), seed=1)
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, name), home / name)
    return home / "book"


def test_a_whole_track_plays_aligned_and_equally_loud_wherever_one_switches(planted: Path) -> None:
    """By construction both are one signal, so that all that is left between them is quantisation and dither."""
    with open_casebook(planted) as casebook:
        setups = tuple(catalogue.everything(casebook, Setup))
        track = catalogue.find(casebook, Track, "reel")
        stretch = free_sounds.of_track(casebook, setups, track)
        ready = free_sounds.ready(casebook, setups, stretch)
        assert stretch.start_s == 0
        assert stretch.length_s == pytest.approx(8, abs=0.001)
        assert ready.residual_lu < 0.005
        inside = ready.sounds[:, RATE_HZ // 10 : -RATE_HZ // 10]
        # White noise that lies d frames aside differs from itself by pi / sqrt(3) * d of its rms: here by d < 1/180.
        assert rms(inside[1] - inside[0]) < 0.01 * rms(inside[0])
        backwards = free_sounds.of_track(casebook, setups[::-1], track)
        assert (backwards.passage.start_frame, backwards.passage.frames) == (
            stretch.passage.start_frame, stretch.passage.frames,
        )  # fmt: skip
        part = free_sounds.of_track(casebook, setups, track, 2.0, 4.5)
        cut = free_sounds.ready(casebook, setups, part).sounds
        assert cut.shape[1] == round(2.5 * RATE_HZ)
        assert 20 * np.log10(rms(cut[1]) / rms(cut[0])) == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize(("from_s", "to_s"), [(7.5, None), (None, 0.5), (3.0, 2.0), (60.0, 70.0)])
def test_a_stretch_that_is_too_short_or_not_there_is_refused(
    casebook: Casebook, setups: tuple[Setup, ...], from_s: float | None, to_s: float | None
) -> None:
    track = catalogue.find(casebook, Track, "drums")
    with pytest.raises(CatalogueError, match="is held by all these setups from"):
        free_sounds.of_track(casebook, setups, track, from_s, to_s)


def test_more_than_can_be_held_names_how_much_can(
    casebook: Casebook, setups: tuple[Setup, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(free_sounds, "MOST_SAMPLES", 2 * 2 * 2 * RATE_HZ)
    track = catalogue.find(casebook, Track, "drums")
    with pytest.raises(CatalogueError, match=r"name a part of up to 0:02\.0 with --from and --to"):
        free_sounds.of_track(casebook, setups, track)
    assert free_sounds.of_track(casebook, setups, track, 0.5, 2.0).length_s == pytest.approx(1.5)


def test_a_device_that_fails_again_says_so(evening: FreeListening, player: SilentPlayer) -> None:
    def fails(*_: object) -> None:
        raise DeviceError("no sound device to play on")

    evening.hear(0)
    player.counts = Faults(stalls=1)
    evening.poll()
    player.load = fails  # type: ignore[method-assign]
    with pytest.raises(DeviceError, match="no sound device"):
        evening.hear(1)


def test_gear_on_routes_plays_whole_tracks_with_its_trims_and_delays(routed: Casebook) -> None:
    """At 1 kHz sallow read 2.5 V and bracken 2 V; bracken stands nearer by 2 ms, so that its music starts later."""
    match_volts(routed)
    setups = tuple(catalogue.find(routed, Setup, name) for name in ("sallow", "bracken"))
    ready = free_sounds.ready(
        routed, setups, free_sounds.of_track(routed, setups, catalogue.everything(routed, Track)[0])
    )
    sallow, bracken = ready.sounds.astype(float)
    late = round(0.002 * ready.rate_hz)
    inside = slice(ready.rate_hz // 4, -ready.rate_hz // 4)
    moved = np.roll(bracken, -late, axis=0)
    assert 20 * np.log10(rms(sallow[inside]) / rms(moved[inside])) == pytest.approx(20 * np.log10(2 / 2.5), abs=0.01)
    assert rms(moved[inside] - 1.25 * sallow[inside]) < 0.01 * rms(moved[inside])
    with players.player_on([setup.chain for setup in setups], None) as player:
        assert player._routes == [[0, 1], [2, 3]]  # type: ignore[union-attr]


def test_gear_that_nobody_matched_is_refused(routed: Casebook) -> None:
    setups = tuple(catalogue.find(routed, Setup, name) for name in ("sallow", "bracken"))
    stretch = free_sounds.of_passage(routed, catalogue.everything(routed, Passage)[0])
    with pytest.raises(CatalogueError, match="no microphone or voltmeter sheet of these setups yet"):
        free_sounds.ready(routed, setups, stretch)
