"""The sound in a real Chromium: frame by frame what the playback engine does, and what is refused."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Error, Page

from audio import browser_sound
from audio.browser_sound import Reading
from audio.clip import Clip
from audio.engine import fields as at
from audio.engine.fields import Wish
from audio.engine.renderer import Bank, Renderer
from audio.errors import DeviceError
from audio.files import wav_bytes
from sessions.listening.browser_playback import BrowserPlayback
from sessions.listening.browser_records import BrowserOutput, BrowserReport, BrowserTrial
from tests import sound_page

pytestmark = pytest.mark.browser

Samples = NDArray[np.float32]
PART_S = (0.05, 0.15)


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    with sound_page.opened() as opened:
        yield opened


def noise(seed: int, rate_hz: int, length_s: float = 0.3) -> Samples:
    rng = np.random.Generator(np.random.PCG64(seed))
    return (0.2 * rng.standard_normal((round(length_s * rate_hz), 2))).astype(np.float32)


def loaded(stimuli: list[Samples], rate_hz: int, browser_hz: int | None = None) -> tuple[BrowserPlayback, BrowserTrial]:
    playback = BrowserPlayback(secret=b"one")
    playback.open(BrowserOutput(browser_hz or rate_hz))
    playback.load(stimuli, rate_hz)
    assert playback.trial is not None
    return playback, playback.trial


def bodies(playback: BrowserPlayback, trial: BrowserTrial) -> list[str]:
    return [sound_page.text_of(playback.file(name) or b"") for name in trial.names]


class Engine:
    """The engine's own renderer, asked for the same at the same frames."""

    def __init__(self, trial: BrowserTrial, stimuli: list[Samples]) -> None:
        self.fields = np.zeros(at.SIZE, np.int64)
        self.renderer = Renderer(self.fields)
        self.renderer.load(Bank(np.stack(stimuli), trial.pause, trial.fade))
        self.wish = Wish()
        self.out: list[Samples] = []
        self.frame = 0

    def until(self, frame: int) -> None:
        block = np.empty((frame - self.frame, 2), np.float32)
        self.renderer.render(block)
        self.out.append(block)
        self.frame = frame

    def ask(self, frame: int, field: tuple[int, int] = (at.START, 0), **change: int | bool) -> None:
        self.until(frame)
        self.fields[field[0]] = field[1]
        self.wish = replace(self.wish, serial=self.wish.serial + 1, **change)  # type: ignore[arg-type]
        self.fields[at.WISH] = self.wish.packed()

    @property
    def auditions(self) -> list[list[int]]:
        ring = self.fields[at.RING : at.RING + int(self.fields[at.AUDITIONS]) * at.RING_WIDTH]
        return [list(map(int, one)) for one in ring.reshape(-1, at.RING_WIDTH)]


@pytest.mark.parametrize("rate_hz", [16000, 44100, 48000, 96000])
def test_the_browser_plays_every_frame_as_the_engine_does(page: Page, rate_hz: int) -> None:
    playback, trial = loaded([noise(1, rate_hz), noise(2, rate_hz), noise(3, rate_hz)], rate_hz)
    given = [wav_bytes.samples(playback.file(name) or b"").astype(np.float32) for name in trial.names]
    first, end = (round(each * rate_hz) for each in PART_S)
    frames = 3 * rate_hz
    moments = [round(each * rate_hz) for each in (0.021, 0.1003, 0.15, 0.2, 0.31, 0.36, 0.9, 1.2, 1.7, 2.4, 2.6, 2.9)]
    requests = [
        ["play", 0, moments[0]],
        ["play", 1, moments[1]],
        ["play", 1, moments[2]],  # to itself
        ["pause", moments[3]],
        ["resume", moments[4]],
        ["play", 2, moments[5]],  # the passage ends, pauses and starts again meanwhile
        ["restart", moments[6]],
        ["loop", first, end, moments[7]],
        ["play", 0, moments[8]],
        ["playFrom", 2, first + 100, moments[9]],
        ["stop", moments[10]],
        ["play", 1, moments[11]],
    ]
    engine = Engine(trial, given)
    engine.ask(moments[0], stimulus=0)
    engine.ask(moments[1], stimulus=1)
    engine.ask(moments[2])
    engine.ask(moments[3], paused=True)
    engine.ask(moments[4], paused=False)
    engine.ask(moments[5], stimulus=2)
    engine.ask(moments[6], restarts=1)
    engine.ask(moments[7], (at.LOOP, at.packed_loop(first, end)))
    engine.ask(moments[8], stimulus=0)
    engine.ask(moments[9], (at.START, first + 100), stimulus=2, restarts=2)
    engine.ask(moments[10], stimulus=-1)
    engine.ask(moments[11], stimulus=1)
    engine.until(frames)
    found = page.evaluate(
        "([trial, bodies, frames, requests]) => played(trial, bodies, frames, requests)",
        [sound_page.plain(trial), bodies(playback, trial), frames, requests],
    )
    heard, wanted = sound_page.samples_of(found["out"]), np.concatenate(engine.out)
    assert np.max(np.abs(wanted)) > 0.5
    # where a fade meets one that rounds off a loop, two factors are multiplied in another order: a last bit at most
    np.testing.assert_allclose(heard, wanted, rtol=0, atol=2.0**-23)
    before_loop = moments[7]
    np.testing.assert_array_equal(heard[:before_loop], wanted[:before_loop])
    assert found["heard"] == engine.auditions


def test_a_switch_between_equal_sounds_is_a_switch_to_itself_to_the_bit(page: Page) -> None:
    sound = noise(1, 48000)
    playback, trial = loaded([sound, sound], 48000)
    same = [bodies(playback, trial)[0]] * 2
    moments = [1000, 5001, 9013, 13000, 30011]
    to_other = [["play", number % 2, moment] for number, moment in enumerate(moments)]
    to_itself = [["play", 0, moment] for moment in moments]
    found = [
        page.evaluate(
            "([trial, bodies, requests]) => played(trial, bodies, 40000, requests)",
            [sound_page.plain(trial), same, requests],
        )["out"]
        for requests in (to_other, to_itself)
    ]
    assert found[0] == found[1]
    assert np.max(np.abs(sound_page.samples_of(found[0]))) > 0.5


def test_a_trials_files_are_played_to_the_bit_and_read_alike_on_both_sides(page: Page) -> None:
    playback, trial = loaded([noise(1, 44100), noise(2, 44100)], 44100, 48000)
    read = page.evaluate(
        """async ([trial, bodies]) => {
          const context = new OfflineAudioContext(2, 128, trial.rate_hz);
          return new TrialSound(context).load(trial, bodies.map(bytesOf));
        }""",
        [sound_page.plain(trial), bodies(playback, trial)],
    )
    readings = [reading_of(one) for one in read]
    assert playback.read(trial.number, readings)
    for name, one in zip(trial.names, readings, strict=True):
        body = playback.file(name) or b""
        wanted = browser_sound.powers(wav_bytes.samples(body), 48000)
        np.testing.assert_allclose(one.k_power, wanted[0], rtol=1e-9)
        np.testing.assert_allclose(one.slope_power, wanted[1], rtol=1e-9)


def test_the_browsers_own_resampling_loses_treble_and_is_refused(page: Page) -> None:
    """Tones at 44.1 kHz brought to 48 kHz: by the browser, and by the path of every file; then a whole sound."""
    time_s = np.arange(22050)[:, None] / 44100
    by_browser, by_soxr = {}, {}
    for hz in (1000, 20000):
        clip = Clip(0.5 * np.sin(2 * np.pi * hz * time_s), 44100)
        body = browser_sound.made(clip, 44100, 1).body
        made = page.evaluate(
            "async (body) => channelsOf((await decodedAt(48000, [body]))[0])", sound_page.text_of(body)
        )
        by_browser[hz] = level_db(sound_page.samples_of(made))
        by_soxr[hz] = level_db(wav_bytes.samples(browser_sound.made(clip, 48000, 1).body))
    assert abs(by_browser[1000]) < 0.01
    assert by_browser[20000] < -1.0  # Chromium 156: -6.9 dB, and -0.7 dB at 18 kHz
    assert max(map(abs, by_soxr.values())) < 0.01
    # as if the browser had been given the sound at its own rate: it is the length that it should be, and dull
    sound = noise(1, 44100)
    playback, trial = loaded([sound], 44100, 48000)
    read = page.evaluate(
        "async ([body, weighting]) => reading((await decodedAt(48000, [body]))[0], weighting)",
        [sound_page.text_of(browser_sound.made(Clip(sound.astype(float), 44100), 44100, 1).body), trial.weighting],
    )
    assert read["frames"] == trial.frames
    with pytest.raises(DeviceError, match=r"its (level|treble) is -\d\.\d+ dB off"):
        playback.read(trial.number, [reading_of(read)])


def level_db(samples: NDArray[np.floating]) -> float:
    """The level of a tone in the middle of half a second at 48 kHz, against one of half of full scale."""
    return float(10 * np.log10(np.mean(samples[4800:19200, 0].astype(float) ** 2) / 0.125))


@pytest.mark.parametrize(
    ("spoilt", "says"),
    [
        ("body.slice(0, body.byteLength - 6)", "not all of it"),
        ("body.slice(0, 20)", "no sound"),
        ("new TextEncoder().encode('<!doctype html>'.repeat(9)).buffer", "no sound"),
        ("(new DataView(body).setUint32(24, 44100, true), body)", "at 44100 Hz"),
        ("(new DataView(body).setUint16(22, 1, true), body)", "of 1 channels"),
    ],
)
def test_what_is_not_the_whole_sound_at_the_right_rate_is_refused(page: Page, spoilt: str, says: str) -> None:
    playback, trial = loaded([noise(1, 48000)], 48000)
    with pytest.raises(Error, match=says):
        page.evaluate(
            f"""([trial, bodies]) => decoded(new OfflineAudioContext(2, 128, 48000), trial,
                bodies.map(bytesOf).map((body) => {spoilt}))""",
            [sound_page.plain(trial), bodies(playback, trial)],
        )


def test_a_context_that_changed_its_rate_is_refused(page: Page) -> None:
    playback, trial = loaded([noise(1, 48000)], 48000)
    with pytest.raises(Error, match="now runs at 44100 Hz"):
        page.evaluate(
            "([trial, bodies]) => decoded(new OfflineAudioContext(2, 128, 44100), trial, bodies.map(bytesOf))",
            [sound_page.plain(trial), bodies(playback, trial)],
        )


def test_the_first_sound_of_a_page_comes_up_from_nothing_and_no_later_one_does(page: Page) -> None:
    playback, trial = loaded([noise(1, 8000, 0.3)], 8000)
    trial = replace(trial, ramp=1600, pause=0)
    out = page.evaluate(
        """async ([trial, bodies]) => {
          const context = new OfflineAudioContext(2, 8000, trial.rate_hz);
          const sound = new TrialSound(context);
          sound.take(trial, await decodedAt(trial.rate_hz, bodies));
          sound.play(0, 100);
          sound.stop(4000);
          sound.play(0, 5000);
          return channelsOf(await context.startRendering());
        }""",
        [sound_page.plain(trial), bodies(playback, trial)],
    )
    heard, gains = sound_page.samples_of(out), 0.5 - 0.5 * np.cos(np.pi * (np.arange(1600) + 0.5) / 1600)
    first, second = heard[140:1700], heard[5040:6600]  # both from the same place, behind the fade
    np.testing.assert_allclose(first, second * gains[40:, None], rtol=0, atol=1e-5)
    np.testing.assert_array_equal(second, wav_bytes.samples(playback.file(trial.names[0]) or b"")[40:1600])


def test_a_step_of_the_sounds_clock_is_told_and_a_drift_is_not(page: Page) -> None:
    found = page.evaluate(
        """() => {
          const looks = (sound) => {
            const watch = new ClockWatch();
            return Array.from({length: 3000}, (_, n) => watch.see(sound(n * 0.2), n * 200)).filter((step) => step);
          };
          const blocks = (s) => Math.floor(s / 0.0213) * 0.0213;
          return [
            looks((s) => blocks(s * 1.0003)),
            looks((s) => blocks(s) - (s > 300 ? 0.1 : 0)),
            looks((s) => blocks(s) + (s > 300 ? 0.2 : 0)),
          ];
        }"""
    )
    assert found[0] == []  # 300 parts in a million for ten minutes
    assert found[1] == [pytest.approx(0.1, abs=0.03)]
    assert found[2] == [pytest.approx(-0.2, abs=0.03)]


def test_a_page_plays_in_real_time_tells_what_was_heard_and_what_stopped_it(page: Page) -> None:
    page.evaluate(
        """() => { document.querySelector("button").onclick = () => {
          window.mine = new PageSound();
          window.started = mine.start();
        }; }"""
    )
    page.click("button")
    output = BrowserOutput(**page.evaluate("() => started"))
    playback = BrowserPlayback()
    playback.open(output)
    sounds = [noise(number, 44100, 1.0) for number in (1, 2)]
    playback.load(sounds, 44100)
    trial = playback.trial
    assert trial is not None
    assert f"{output.rate_hz} Hz" in output.words
    read = page.evaluate(
        "([trial, files]) => mine.load(trial, async (name) => bytesOf(files[name]))",
        [sound_page.plain(trial), dict(zip(trial.names, bodies(playback, trial), strict=True))],
    )
    assert playback.read(trial.number, [reading_of(one) for one in read])
    told = page.evaluate(
        """async () => {
          const wait = (ms) => new Promise((done) => setTimeout(done, ms));
          mine.hear(0);
          await wait(250);
          const during = mine.report();
          mine.hear(1);
          await wait(250);
          await mine.stop();
          const after = mine.report();
          mine.reached(after);
          const again = mine.report();
          mine.hear(0);
          await wait(100);
          await mine.context.suspend();
          await wait(50);
          return [during, after, again, mine.report()];
        }"""
    )
    during, after, again, stopped = (report_of(one) for one in told)
    assert (during.stimulus, during.playing, during.auditions) == (0, True, ())
    assert 0 < during.frame < trial.frames
    [(first, begin, turn), (second, from_frame, to_frame)] = after.auditions
    assert (first, begin, second) == (0, 0, 1)
    assert turn == from_frame < to_frame  # one clock of the music
    assert to_frame == pytest.approx(0.5 * output.rate_hz, abs=0.3 * output.rate_hz)
    assert (after.playing, again.told_before, again.auditions) == (False, 2, ())
    assert stopped.stalls == again.stalls + 1
    assert "stopped the sound" in stopped.trouble
    playback.told(after)
    playback.told(stopped)
    assert len(playback.auditions()) == 2
    assert playback.faults().stalls == stopped.stalls


def report_of(told: dict[str, Any]) -> BrowserReport:
    auditions = tuple((stimulus, first, end) for stimulus, first, end in told.pop("auditions"))
    return BrowserReport(**told, auditions=auditions)


def reading_of(told: dict[str, Any]) -> Reading:
    values: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in told.items()}
    return Reading(**values)
