"""Mends and checks of casebooks, as records: of the version before, and of this one."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading, writing
from audio.mend import Mend
from sessions.casebook import catalogue, documents
from sessions.casebook.catalogue import Passage, Setup
from sessions.casebook.recordings import Recording
from sessions.casebook.store import Casebook, open_casebook
from sessions.preparation import mends, spl_calibration
from sessions.preparation.giveaway_check import GiveawayCheck
from sessions.preparation.mends import PassageMend
from sessions.preparation.passage_audio import Source
from tests import families

BEFORE = Path(__file__).parents[2] / "data" / "before-rooms"


@pytest.fixture
def before(tmp_path: Path) -> Casebook:
    """The casebook of the version before."""
    shutil.copy(BEFORE / "casebook.db", tmp_path)
    return open_casebook(tmp_path)


def test_the_newest_mend_of_a_setup_is_in_force(casebook: Casebook) -> None:
    passage = catalogue.everything(casebook, Passage)[0]
    setups = catalogue.everything(casebook, Setup)
    assert mends.in_force(casebook, setups, passage) == {}
    for delay_s in (0.001, 0.002):
        late = PassageMend(setups[0].id, setups[0].name, passage.id, passage.name, Mend(delay_s), "late")
        mends.keep(casebook, [late])
    assert mends.in_force(casebook, setups, passage) == {setups[0].id: Mend(0.002)}
    assert mends.in_force(casebook, setups[1:], passage) == {}
    assert mends.everything(casebook)[-1] == late


def sources_of(folder: Path, **recorded: np.ndarray) -> list[Source]:
    """Recordings of a track by setup."""
    sources = []
    for name, samples in recorded.items():
        path = folder / f"{name}.wav"
        writing.write(path, Clip(samples, 48_000))
        recording = Recording(name, "t", path.name, reading.sha256(path), 48_000, 2, len(samples), "")
        sources.append(Source(Setup(name, name, "rendering", "", ""), recording, path))
    return sources


def test_a_high_pass_is_told_once_for_each_setup_and_not_that_it_can_be_had(tmp_path: Path) -> None:
    """An offset of 0.02 in one of two: both are filtered, for the one reason."""
    music = 0.3 * families.played(families.score(np.random.default_rng(3), 4.0), 4.0, 48_000)
    sources = sources_of(tmp_path, moor=music, heath=music + 0.02)
    passage = Passage("p", "t", "reel", 0, len(music), 48_000, "", "")
    found = mends.needed(passage, sources, {}, laid={})
    assert [one.setup for one in found] == ["moor", "heath"]
    for one in found:
        assert one.done == "high-passed at 10 Hz (second order) like every setup"
        assert one.why == "heath has a DC offset that moor has not (-34 dBFS apart): a thump at a switch"


@pytest.mark.parametrize("asked", [False, True])
def test_a_mend_names_as_its_reason_what_it_mends_and_no_more(tmp_path: Path, asked: bool) -> None:
    """A recording 5 ms late and turned round, whose polarity is mended only when that is asked for."""
    music = families.played(families.score(np.random.default_rng(3), 4.0), 4.0, 48_000)
    late = -np.concatenate([np.zeros((240, 2)), music])[: len(music)]
    sources = sources_of(tmp_path, moor=music, heath=late)
    passage = Passage("p", "t", "reel", 0, len(music), 48_000, "", "")
    (mended,) = mends.needed(passage, sources, {}, polarity=asked, laid={})
    assert mended.setup == "heath"
    assert mended.mend.delay_s == pytest.approx(0.005, abs=1e-5)
    assert mended.mend.invert is asked
    assert "is 5.000 ms late against moor" in mended.why
    assert ("polarity" in mended.why) is asked


def test_mends_of_the_version_before_are_read(before: Casebook) -> None:
    rows = before.query("SELECT * FROM mends ORDER BY seq")
    found = mends.everything(before)
    assert len(found) == len(rows) == 2
    for row, one in zip(rows, found, strict=True):
        assert one.mend == documents.from_text(row["document"], Mend)
        assert documents.plain(one.mend) == json.loads(row["document"]) | {"high_pass_hz": None}
        assert (one.setup_id, one.passage_id, one.why) == (row["setup_id"], row["passage_id"], row["why"])


def test_checks_and_calibrations_of_the_version_before_are_read(before: Casebook) -> None:
    texts = [row["document"] for row in before.query("SELECT document FROM checks ORDER BY seq")]
    checks = [documents.from_text(text, GiveawayCheck) for text in texts]
    assert {check.ok for check in checks} == {True, False}
    for text, check in zip(texts, checks, strict=True):
        stated = json.loads(text) | {"notes": [], "every_pair": False}
        stated["findings"] = [found | {"against": ""} for found in stated["findings"]]
        assert json.dumps(check.to_document()) == json.dumps(stated)
    kept = before.query("SELECT document FROM calibrations ORDER BY seq")
    read = [json.dumps(documents.plain(one.record)) for one in spl_calibration.everything(before)]
    assert read == [row["document"] for row in kept]
    assert len(read) == 2
