"""Prepared audio is found by the name that a plan seals, and hashed once; older plans' by their match sheet."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from audio.files import reading
from sessions.casebook.store import Casebook
from sessions.errors import ListenError
from sessions.listening import session
from sessions.listening.trial_runner import TrialRunner
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan import Plan
from sessions.preparation import prepared_audio
from tests.fakes import SilentPlayer, at_once

MISSING = "missing or not what was sealed"


@pytest.fixture
def hashed(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often each file was hashed."""
    counted: Counter[str] = Counter()
    sha256 = reading.sha256

    def counting(path: Path) -> str:
        counted[path.name] += 1
        return sha256(path)

    monkeypatch.setattr(reading, "sha256", counting)
    return counted


def plan_of(casebook: Casebook) -> Plan:
    sealed = plan_rows.sealed(casebook, "evening")
    assert sealed is not None
    return sealed.plan


def test_a_plan_names_the_prepared_files_it_seals(sealed: Casebook) -> None:
    for passage in plan_of(sealed).passages:
        assert set(passage.files) == set(passage.audio)
        for setup, name in passage.files.items():
            assert reading.sha256(sealed.prepared / name) == passage.audio[setup]


def test_ten_trials_hash_each_prepared_file_once(casebook: Casebook, hashed: Counter[str]) -> None:
    drafting.draft(casebook, plan_rows.Wish("abx", listeners=("Ada",), trials=10), "evening")
    seals.seal(casebook, "evening")
    hashed.clear()
    for extra in range(20):  # whatever else lies there is not looked at
        (casebook.prepared / f"{extra}.wav").write_bytes(b"other")
    with session.begin(casebook, "evening", "Ada", "none") as running:
        runner = TrialRunner(running, SilentPlayer(), sleep=at_once)
        trials = 0
        while runner.offer() is not None:
            for label in "ABX":
                runner.hear(label)
            assert runner.answer("A", 1) is None
            trials += 1
    assert trials == 10
    assert set(hashed) == {name for passage in plan_of(casebook).passages for name in passage.files.values()}
    assert set(hashed.values()) == {1}


def test_a_named_file_that_is_not_what_was_sealed_is_refused_without_a_search(
    sealed: Casebook, hashed: Counter[str]
) -> None:
    passage = plan_of(sealed).passages[0]
    setup, name = next(iter(passage.files.items()))
    (sealed.prepared / name).rename(sealed.prepared / "elsewhere.wav")
    with pytest.raises(ListenError, match=MISSING):
        prepared_audio.file_of(sealed, passage.audio[setup], passage.name, named=name, sheet=None)
    assert not hashed


def test_a_plan_that_names_no_files_finds_them_by_its_match_sheet(sealed: Casebook, hashed: Counter[str]) -> None:
    plan = plan_of(sealed)
    for passage in plan.passages:
        for setup, sha256 in passage.audio.items():
            found = prepared_audio.file_of(sealed, sha256, passage.name, named=None, sheet=plan.match.sheet)
            assert found.name == passage.files[setup]
    assert set(hashed.values()) == {1}


def test_what_no_sheet_names_is_searched_by_its_hash(sealed: Casebook) -> None:
    other = sealed.prepared / "anchor.wav"
    other.write_bytes(b"an anchor of an older plan")
    sha256 = reading.sha256(other)
    assert prepared_audio.file_of(sealed, sha256, "drums 1", named=None, sheet=plan_of(sealed).match.sheet) == other
    other.unlink()
    with pytest.raises(ListenError, match=MISSING):
        prepared_audio.file_of(sealed, sha256, "drums 1", named=None, sheet=None)
