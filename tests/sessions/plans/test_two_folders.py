"""Two folders compared by several processes come to what one process makes of them."""

from __future__ import annotations

import dataclasses
import json
import re
import shlex
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from audio import parallel
from audio.files import reading
from sessions.casebook import documents
from sessions.casebook.store import create
from sessions.commands import comparison_summary
from sessions.plans import pair_work, two_folders
from sessions.plans.plan_rows import Wish
from sessions.preparation.track_alignment import Question
from tests.command_line import earwitness

IDENTIFIER = re.compile(r"\b[a-z]+-[0-9a-z]{10}\b")


@pytest.fixture
def folders(rendered: Path, tmp_path: Path) -> tuple[Path, Path]:
    """Two pieces that fit, a third of which one is another piece, a fourth that is silent in one."""
    for name in ("sallow", "bracken"):
        shutil.copytree(rendered / name, tmp_path / name)
        soundfile.write(tmp_path / name / "hush.wav", np.zeros((96_000, 2)), 48_000)
    shutil.copy(rendered / "sallow" / "drums.flac", tmp_path / "sallow" / "other.flac")
    shutil.copy(rendered / "bracken" / "strings.flac", tmp_path / "bracken" / "other.flac")
    late = reading.read(rendered / "bracken" / "drums.flac")
    moved = np.concatenate([np.zeros((7001, 2)), late.samples])
    soundfile.write(tmp_path / "bracken" / "drums.flac", moved, late.rate_hz, subtype="PCM_24")
    return tmp_path / "sallow", tmp_path / "bracken"


def made(folders: tuple[Path, Path], book: Path, asked: list[Question]) -> dict[str, Any]:
    with create(book) as casebook:
        found = two_folders.prepare(casebook, *folders, Wish("abx", listeners=("Ada",)), choose=asked.append)
        whole: dict[str, Any] = documents.plain(dataclasses.replace(found, plan=None))  # type: ignore[arg-type]
    return whole


def same(one: Any, other: Any) -> None:
    """Alike but for identifiers and what follows from them: names and hashes of files, and the dither's last digits."""
    assert type(one) is type(other)
    if isinstance(one, dict):
        assert len(one) == len(other)
        for (key, value), (_, fellow) in zip(one.items(), other.items(), strict=True):
            if key not in ("file", "sha256", "added_at"):
                same(value, fellow)
    elif isinstance(one, list):
        assert len(one) == len(other)
        for value, fellow in zip(one, other, strict=True):
            same(value, fellow)
    elif isinstance(one, float):
        assert one == pytest.approx(other, abs=1e-4)
    elif isinstance(one, str):
        assert IDENTIFIER.sub("", one) == IDENTIFIER.sub("", other)
    else:
        assert one == other


def test_several_processes_come_to_the_same_as_one(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = []
    for cores in (1, 2):
        monkeypatch.setattr(parallel, "cores", lambda cores=cores: cores)
        found.append(made(folders, tmp_path / f"book {cores}", []))
    assert [out["track"] for out in found[0]["left_out"]] == ["hush", "other"]
    assert len(found[0]["sheet"]["passages"]) == 2
    same(*found)


def test_a_track_of_which_no_passage_is_played_since_there_are_enough_is_named(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(pair_work, "MOST_PASSAGES", 1)
    with create(tmp_path / "book") as casebook:
        found = two_folders.prepare(casebook, *folders, Wish("abx", listeners=("Ada",)), choose=[].append)
    (played,) = found.passages
    others = [name for name in found.laid if name != played.track.name]
    assert others
    assert found.not_played == others
    comparison_summary.tell(found, "earwitness compare a b")
    assert f"Not played: {', '.join(others)}; what is played is 1 passage of" in capsys.readouterr().out
    assert comparison_summary.document(found, "", tmp_path)["not_played"] == others
    said = earwitness(tmp_path / "book", "status").stdout
    them = "it; to have one" if len(others) == 1 else "them; to have one of each"
    suggest = shlex.join(["passage", "suggest", *others, "--add"])
    hint = f"earwitness --casebook {shlex.quote(str(tmp_path / 'book'))}"
    assert f"Not played\n  {', '.join(others)}: no passage is of {them}: {hint} {suggest}\n" in said
    assert json.loads(earwitness(tmp_path / "book", "status", "--json").stdout)["without_passage"] == others


def test_a_passage_that_came_after_the_seal_is_played_in_no_plan_until_one_of_its_own_plays_it(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pair_work, "MOST_PASSAGES", 1)
    book = tmp_path / "book"
    with create(book) as casebook:
        found = two_folders.prepare(casebook, *folders, Wish("abx", listeners=("Ada",)), choose=[].append)
    other = found.not_played[0]
    assert earwitness(book, "seal", "abx-1", "--elsewhere").returncode == 0
    added = earwitness(book, "passage", "suggest", other, "--add")
    passage = f"{other} 1"
    own = (
        f"plan abx-1 is sealed without {passage}; to have it played, a plan of its own: "
        f"earwitness --casebook {book} plan abx --passage {shlex.quote(passage)} --listener Ada\n"
    )
    assert own in added.stdout
    assert f"  {other}: {own}" in earwitness(book, "status").stdout
    planned = earwitness(book, *shlex.split(own.rpartition(": ")[2])[3:])
    assert planned.returncode == 0, planned.stderr
    assert other not in earwitness(book, "status").stdout.partition("Not played")[2]


def test_another_take_is_played_for_no_reason(folders: tuple[Path, Path], tmp_path: Path) -> None:
    accept = ("--accept", "performance=it is nearly the same", "--no-listen", "--yes")
    done = earwitness(tmp_path / "book", "compare", *map(str, folders), *accept)
    assert done.returncode == 2
    (line,) = done.stderr.strip().splitlines()
    assert "--accept performance changes nothing here: another take of a piece is left out, whatever the reason" in line
