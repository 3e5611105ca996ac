"""Sounds of long passages: on disk where they wait to be fetched, read once for all who listen, up to a bound."""

from __future__ import annotations

import sys
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from sessions.casebook.store import Casebook
from sessions.listening.browser_playback import BrowserPlayback
from sessions.listening.browser_records import BrowserOutput
from sessions.listening.passage_sounds import PassageSounds
from sessions.listening.spool import Spool
from sessions.plans import seals
from sessions.preparation import prepared_audio
from sessions.preparation.prepared_audio import SealedFile

RATE_HZ, LENGTH_S = 48000, 4
BODY_BYTES = RATE_HZ * LENGTH_S * 2 * 3  # two channels of 24 bits


def test_the_files_of_a_trial_wait_on_disk_without_a_name(tmp_path: Path) -> None:
    stimuli = [np.full((RATE_HZ * LENGTH_S, 2), level, np.float32) for level in (0.1, 0.2, 0.1)]
    with BrowserPlayback(folder=tmp_path) as playback:
        playback.open(BrowserOutput(RATE_HZ, 2))
        tracemalloc.start()
        playback.load(stimuli, RATE_HZ)
        held, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert held < BODY_BYTES / 4
        if sys.platform != "win32":
            assert list(tmp_path.iterdir()) == []
        trial = playback.trial
        assert trial is not None
        bodies = [playback.file(name) or b"" for name in trial.names]
        assert [len(body) for body in bodies] == [44 + BODY_BYTES] * 3
        playback.load(stimuli[::-1], RATE_HZ)
        after = playback.trial
        assert after is not None
        first = np.frombuffer(playback.file(after.names[1]) or b"", np.uint8, 3, 44 + 2)  # the highest byte of a step
        assert first[0] == int(0.2 * 128)


def test_where_nothing_can_be_written_they_stay_in_memory_whole(tmp_path: Path) -> None:
    spool = Spool(tmp_path / "nowhere")
    assert spool.get(spool.put(b"heard")) == b"heard"


def test_what_was_kept_before_is_not_read_once_it_is_forgotten(tmp_path: Path) -> None:
    spool = Spool(tmp_path)
    spool.put(b"one trial")
    spool.clear()
    kept = [spool.put(body) for body in (b"next", b"and one more")]
    assert [spool.get(one) for one in kept] == [b"next", b"and one more"]
    spool.close()


@pytest.fixture
def asked(sealed: Casebook) -> list[tuple[str, list[SealedFile], str | None]]:
    """The passages of a sealed plan, as they are asked for."""
    plan = seals.sealed_plan(sealed, "evening").plan
    return [
        (one.name, [SealedFile(one.audio[source], one.files.get(source)) for source in plan.sources], plan.match.sheet)
        for one in plan.passages
    ]


def test_all_listeners_share_what_was_read_and_nobody_writes_to_it(
    sealed: Casebook, asked: list[tuple[str, list[SealedFile], str | None]], monkeypatch: pytest.MonkeyPatch
) -> None:
    read, reads = list[str](), prepared_audio.sounds

    def counted(book: Casebook, name: str, *more: object) -> object:
        read.append(name)
        return reads(book, name, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(prepared_audio, "sounds", counted)
    one, other = asked[:2]
    shared = PassageSounds()
    first = shared.of(sealed, *one)
    assert shared.of(sealed, *one) is first
    shared.of(sealed, *other)
    assert shared.of(sealed, *one) is first
    assert read == [one[0], other[0]]
    with pytest.raises(ValueError, match="read-only"):
        first[0] = 0
    bounded = PassageSounds(most_bytes=first.nbytes)
    for again in (one, one, other, one):
        bounded.of(sealed, *again)
    assert read[2:] == [one[0], other[0], one[0]]
