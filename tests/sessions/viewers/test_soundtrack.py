"""A soundtrack: as loud as it says, by the sealed key, with captions a browser reads; and its poll."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser
from pyloudnorm import Meter

from audio.files import reading
from audio.levels.true_peak import true_peak_db
from sessions.casebook.store import Casebook, open_casebook
from sessions.plans import viewers_rows, viewers_test
from sessions.viewers import captions, soundtrack
from sessions.viewers.making import Ready
from sessions.viewers.soundtrack import Cue
from tests.command_line import earwitness
from tests.sessions.viewers.conftest import seal_plan


def test_each_sound_is_the_setup_that_the_key_says_and_all_have_one_gain(ready: Ready) -> None:
    made = soundtrack.made(ready.test, ready.secret, ready.sounds)
    rate, heard, gains = made.clip.rate_hz, dict[tuple[int, str], np.ndarray[Any, Any]](), []
    for cue in made.cues:
        if ": " in cue.words and len(cue.words.split(": ")[1]) == 1:
            place = ready.sounds[viewers_test.passage_of(ready.test, ready.secret, cue.trial)]
            sound = made.clip.samples[cue.end - place.shape[1] : cue.end]
            heard[cue.trial, cue.words[-1]] = sound
            name = cue.words[-1]
            setup = "AB".index(name) if name in "AB" else viewers_test.coin(ready.test, ready.secret, cue.trial)
            played = place[setup].astype(np.float64)
            gain = float(np.vdot(sound, played) / np.vdot(played, played))
            np.testing.assert_allclose(sound, gain * played, rtol=0, atol=1e-9)
            gains.append(gain)
    assert len(gains) == 15
    assert max(gains) == pytest.approx(min(gains), rel=1e-9)
    for trial in range(1, 6):
        same = np.allclose(heard[trial, "X"], heard[trial, "A"], atol=1e-6)
        assert same == (viewers_test.coin(ready.test, ready.secret, trial) == 0)
    assert rate == 48_000


def test_the_command_writes_what_it_says_as_loud_as_it_says(casebook: Casebook, tmp_path: Path) -> None:
    seal_plan(casebook)
    casebook.close()
    file = tmp_path / "blind.flac"
    done = earwitness(
        casebook.folder, "viewers", "soundtrack", "evening", str(file), "--trials", "4", "--lufs", "-30", "--pause", "1"
    )
    assert done.returncode == 0
    clip = reading.read(file)
    peak = true_peak_db(clip.samples, clip.rate_hz)
    assert peak is not None
    assert peak <= -1.0
    # an independent meter: pyloudnorm
    assert Meter(clip.rate_hz).integrated_loudness(clip.samples) == pytest.approx(-30.0, abs=0.1)
    described = (tmp_path / "blind.txt").read_text("utf-8")
    with open_casebook(casebook.folder) as opened:
        sealed = viewers_rows.of_plan(opened, "evening", "soundtrack")
    assert sealed.seal in described
    assert "(-30.0 LUFS, true peak" in described
    assert len(re.findall(r"^\d+:\d\d Trial \d of 4$", described, re.MULTILINE)) == 4
    for hidden in ("sallow", "bracken", "Ada"):
        assert hidden not in described + (tmp_path / "blind.vtt").read_text("utf-8")
    again = earwitness(casebook.folder, "viewers", "soundtrack", "evening", str(file))
    assert again.returncode == 2
    assert "is there already" in again.stderr
    nowhere = tmp_path / "none" / "blind.flac"
    lost = earwitness(casebook.folder, "viewers", "soundtrack", "evening", str(nowhere))
    assert lost.returncode == 2
    assert lost.stderr == (
        f"earwitness: there is no folder {nowhere.parent} for the soundtrack; make it, or name another place\n"
    )
    loud = earwitness(
        casebook.folder, "viewers", "soundtrack", "evening", str(tmp_path / "loud.wav"), "--trials", "4", "--lufs", "-6"
    )
    assert "quieter than the -6 LUFS asked for" in loud.stdout
    peak = true_peak_db(reading.read(tmp_path / "loud.wav").samples, 48_000)
    assert peak is not None
    assert -1.1 < peak <= -1.0 + 0.01


@pytest.mark.browser
def test_a_browser_reads_the_captions_as_they_are_meant(chromium: Browser) -> None:
    cues = [
        Cue(48_000, 52_001, "Trial 1 of 2", 1),
        Cue(52_001, 48_000 * 3_599, "Trial 1 of 2: A", 1),
        Cue(48_000 * 3_600, 48_000 * 3_661, "Trial 2 of 2: louder --> or <i>softer</i> & why?\n\nX", 2),
    ]
    text = captions.webvtt(cues, 48_000)
    page = chromium.new_page()
    found = page.evaluate(
        """(text) => new Promise((done, failed) => {
          const video = document.createElement("video");
          const track = document.createElement("track");
          track.src = URL.createObjectURL(new Blob([text], {type: "text/vtt"}));
          const told = (cue) => [cue.startTime, cue.endTime, cue.getCueAsHTML().textContent];
          track.onload = () => done(Array.from(track.track.cues, told));
          track.onerror = failed;
          video.append(track);
          document.body.append(video);
          track.track.mode = "showing";
        })""",
        text,
    )
    page.close()
    assert [one[2] for one in found] == [
        "Trial 1 of 2",
        "Trial 1 of 2: A",
        "Trial 2 of 2: louder --> or <i>softer</i> & why? X",
    ]
    times = [time for one in found for time in one[:2]]
    assert times == pytest.approx([1, 1.083, 1.083, 3599, 3600, 3661], abs=0.0006)
    assert captions.moments(cues, 48_000) == [
        "0:01 Trial 1 of 2",
        "60:00 Trial 2 of 2: louder --> or <i>softer</i> & why?\n\nX",
    ]


def test_votes_of_a_poll_come_back_in_both_forms(casebook: Casebook, tmp_path: Path, ready: Ready) -> None:
    sealed = viewers_rows.keep(casebook, ready.test, ready.secret)
    casebook.close()
    coins = [viewers_test.coin(ready.test, ready.secret, trial) for trial in range(1, 6)]
    counts = [((7, 3), (3, 7))[coin] for coin in coins]  # seven of ten are right each time
    table, lines = tmp_path / "poll.csv", tmp_path / "votes.csv"
    table.write_text("trial;A;B\n" + "".join(f"{n};{a};{b}\n" for n, (a, b) in enumerate(counts, 1)))
    lines.write_text(
        "who,trial,answer\n" + "".join(f"x,{n},a\n" * a + f"y,{n},B\n" * b for n, (a, b) in enumerate(counts, 1))
    )
    before = earwitness(casebook.folder, "viewers", "poll", "evening", str(table))
    assert before.stdout.startswith("50 votes in 5 trials.")
    assert "right" not in before.stdout
    opened = earwitness(casebook.folder, "viewers", "poll", "evening", str(table), "--open", "--json")
    document = json.loads(opened.stdout)
    assert (document["right"], document["votes"], document["p_value"]) == (35, 50, 1 / 32)
    assert document["verdict"] == "heard"
    assert "A video's sound is coded with loss on its way" in opened.stderr
    again = earwitness(casebook.folder, "viewers", "poll", "evening", str(lines), "--json")
    assert json.loads(again.stdout) == document
    # a vote more, and one that changed sides since: neither is what was counted at the end
    for trial, a, b in ((1, 1, 0), (5, -1, 1)):
        late = [(own[0] + a, own[1] + b) if n == trial else own for n, own in enumerate(counts, 1)]
        table.write_text("trial,A,B\n" + "".join(f"{n},{one},{two}\n" for n, (one, two) in enumerate(late, 1)))
        later = earwitness(casebook.folder, "viewers", "poll", "evening", str(table), "--open", "--json")
        votes, right = sum(map(sum, late)), sum(own[coin] for own, coin in zip(late, coins, strict=True))
        told = json.loads(later.stdout)
        assert (told["exploratory"], told["verdict"], told["votes"], told["right"]) == (True, None, votes, right)
        assert "p_value" not in told
        assert f"{votes} votes: no verdict on sallow and bracken from these." in later.stderr
        assert "EXPLORATORY: these are not the 50 answers that were there when the secret was told" in later.stderr
        assert not re.search(r"HEARD|NOT SHOWN|p =", later.stderr)
    table.write_text("trial,A,B\n1,5,5\n")
    short = earwitness(casebook.folder, "viewers", "poll", "evening", str(table))
    assert (short.returncode, "no votes for trial 2" in short.stderr) == (2, True)
    table.write_text("trial,A,B\n1,5,-5\n")
    assert "under 'b' is no count" in earwitness(casebook.folder, "viewers", "poll", "evening", str(table)).stderr
    listed = json.loads(earwitness(casebook.folder, "viewers", "list", "--json").stdout)
    assert [(one["form"], one["over"], one["seal"]) for one in listed] == [("soundtrack", True, sealed.seal)]
