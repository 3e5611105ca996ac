"""Every byte of a small proof bundle altered, one after the other: how many escape its own program. Run by hand.

    python -m tests.benchmarks.altered_bytes [--step N]

Each byte becomes another one drawn by chance; each byte of the program itself is altered four times, in a process that
is stopped after ten seconds.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import shutil
import sys
import tempfile
from pathlib import Path

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import loudspeakers, tracks
from sessions.casebook import catalogue, passages
from sessions.casebook.catalogue import Track
from sessions.casebook.store import create
from sessions.export import proof
from sessions.preparation import giveaway_check, match_files, recording_folder
from sessions.preparation.selection import select
from tests.answered_plans import answer_all, sealed_plan
from tests.proof_bundles import HOLDS, members, said, unpacked

LONGEST_S = 10
OF_THE_PROGRAM = 4


def made(home: Path) -> Path:
    """The bundle of a plan of five trials on four seconds of music."""
    with create(home / "book") as book:
        for name in ("sallow", "bracken"):
            (home / name).mkdir()
            whole = reading.read(tracks.path("strings"))
            start = Clip(whole.samples[: 4 * whole.rate_hz], whole.rate_hz)
            played = loudspeakers.render(name, start.samples, start.rate_hz)
            writing.write(home / name / "strings.flac", Clip(played, start.rate_hz), seed=1)
            recording_folder.add_folder(book, catalogue.add_setup(book, name), home / name)
        for track in catalogue.everything(book, Track):
            passages.add(book, track, 0, 4 * 48_000, 48_000, f"{track.name} 1")
        match_files.make_match_sheet(book, select(book, [], []))
        giveaway_check.check(book, select(book, [], []))
        sealed_plan(book, method="abx", trials=5)
        answer_all(book, 1.0)
        return unpacked(book, home)


def escapes(bundle: Path) -> bool:
    """Whether the bundle's program says that it holds; in a process of its own, since it may never end."""
    child = multiprocessing.get_context("fork").Process(target=lambda: sys.exit(HOLDS in said(bundle)))
    child.start()
    child.join(LONGEST_S)
    if child.is_alive():
        child.kill()
        return False
    return child.exitcode == 1


def main() -> None:
    """Alter, ask, put back; then say what escaped."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--step", type=int, default=1, help="every how-manieth byte")
    step = parser.parse_args().step
    rng, asked, escaped = random.Random(7), 0, []
    home = Path(tempfile.mkdtemp())
    try:
        bundle = made(home)
        assert said(bundle).startswith(HOLDS)
        for path in members(bundle):
            content, is_program = path.read_bytes(), path.name == proof.CHECKER
            for place in range(0, len(content), step):
                for _ in range(OF_THE_PROGRAM if is_program else 1):
                    altered = bytearray(content)
                    altered[place] ^= rng.randrange(1, 256)
                    path.write_bytes(altered)
                    asked += 1
                    if escapes(bundle) if is_program else HOLDS in said(bundle):
                        escaped.append(f"{path.name} {place}: {content[place]} became {altered[place]}")
            path.write_bytes(content)
            print(f"{path.name}: {len(content)} bytes, {asked} alterations so far, {len(escaped)} escaped", flush=True)
    finally:
        shutil.rmtree(home)
    print(*escaped, sep="\n")


if __name__ == "__main__":
    main()
