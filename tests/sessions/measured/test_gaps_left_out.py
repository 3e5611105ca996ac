"""A gap in a file stays a gap, whatever is made of the curve: nothing stands there that was not measured."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from audio.curves import smooth, splice
from audio.curves.curve import Curve, log_grid
from audio.curves.gaps import gaps_of
from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from sessions.measured import curve_records
from sessions.measured.frequency_response import response_of
from tests.sessions.commands.test_commands import Done, run

HZ = log_grid(10, 20_000, 24)
GAP = (1000.0, 2000.0)  # of a far field, at 300 Hz to 20 kHz
BASS_GAP = (40.0, 90.0)


def ask(casebook: Casebook, *arguments: object) -> Done:
    done = run("--casebook", casebook.folder, *arguments)
    assert done.returncode == 0, done.stderr
    return done


def write(path: Path, level_db: np.ndarray | float, *gaps: tuple[float, float], phase: bool = False) -> Path:
    rows = []
    for f, db in zip(HZ, np.broadcast_to(level_db, HZ.shape), strict=True):
        if not any(low < f < high for low, high in gaps):
            rows.append(f"{f:.4f} {db:.4f}{' 0' if phase else ''}")
    path.write_text(f"Hz dB{' degrees' if phase else ''}\n" + "\n".join(rows) + "\n")
    return path


def rows(text: str) -> np.ndarray:
    return np.array([line.split("\t") for line in text.splitlines() if not line.startswith("#")], float)


@pytest.mark.parametrize("smooth_to", [0, 12, 1])
def test_an_export_leaves_a_gap_out_and_says_it(casebook: Casebook, tmp_path: Path, smooth_to: int) -> None:
    ask(casebook, "curve", "add", "sallow", write(tmp_path / "a.txt", 80, GAP))
    told = ask(casebook, "curve", "export", "sallow", "--smooth", smooth_to).stdout
    hz = rows(told)[:, 0]
    assert not ((hz > GAP[0]) & (hz < GAP[1])).any()
    assert "# a gap: nothing was measured from 987 to 2032 Hz" in told


def test_smoothing_takes_nothing_from_across_a_gap() -> None:
    """80 dB below the gap and 60 above it: either side keeps its own level to its very end."""
    hz = HZ[(GAP[0] >= HZ) | (GAP[1] <= HZ)]
    level = np.where(hz <= GAP[0], 80.0, 60.0)
    made = smooth.smoothed(Curve(hz, level, gaps_hz=gaps_of(hz)), 3)
    assert made.level_db == pytest.approx(level, abs=1e-6)


def test_a_joined_curve_keeps_the_gaps_of_cone_port_and_far_field(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    ask(casebook, "curve", "add", "sallow", write(tmp_path / "far.txt", 80, GAP))
    near = write(tmp_path / "near.txt", 95, BASS_GAP, phase=True)
    port = write(tmp_path / "port.txt", 60, (15.0, 25.0), phase=True)
    done = ask(casebook, "curve", "join", "sallow", near, "--at", 300, "--radius", 0.05, "--port", port, 0.03)
    assert "nothing was measured from 15 to 25 Hz and from 40 to 92 Hz and from 987 to 2032 Hz" in " ".join(
        done.stdout.split()
    )
    kept = curve_records.of_setup(casebook, sallow).on_axis
    assert kept is not None
    made = response_of(kept)
    for low, high in ((15, 25), BASS_GAP, GAP):
        assert not ((made.hz > low * 1.03) & (made.hz < high / 1.03)).any()
    assert len(made.gaps_hz) == 3


def test_a_nearfield_with_a_gap_where_it_is_joined_is_refused(casebook: Casebook, tmp_path: Path) -> None:
    ask(casebook, "curve", "add", "sallow", write(tmp_path / "far.txt", 80))
    near = write(tmp_path / "near.txt", 95, (250.0, 400.0))
    done = run("--casebook", casebook.folder, "curve", "join", "sallow", near, "--at", 300, "--radius", 0.05)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "nothing was measured from 2" in done.stderr


def test_a_pair_is_matched_over_what_both_have(casebook: Casebook, tmp_path: Path) -> None:
    """Left 80 dB all over, with the gap; right 79 dB, and 10 dB up within that gap: 1 dB apart, and 0 from that."""
    bump = np.where((GAP[0] < HZ) & (GAP[1] > HZ), 10.0, 0.0)
    stated = ("--spl", "--distance", 1, "--volts", 2.83)
    ask(casebook, "curve", "add", "sallow", write(tmp_path / "l.txt", 80, GAP), *stated, "--side", "left")
    ask(casebook, "curve", "add", "sallow", write(tmp_path / "r.txt", 79 + bump), *stated, "--side", "right")
    shown = ask(casebook, "curve", "show", "sallow", "--what", "pair", "--smooth", 0, "--json").stdout
    found = json.loads(shown)["numbers"]
    assert (found["mean_difference_db"], found["departure_db"]) == (
        pytest.approx(1, abs=1e-3),
        pytest.approx(0, abs=1e-3),
    )
    assert (
        "nothing was measured from 987 to 2032 Hz" in ask(casebook, "curve", "show", "sallow", "--what", "pair").stdout
    )


def test_two_setups_are_judged_as_a_pair_only_where_both_are_valid(casebook: Casebook, tmp_path: Path) -> None:
    """A gate of 4 ms: nothing below 250 Hz is valid, where the one lies 20 dB lower."""
    for name, level in (("sallow", np.where(HZ < 200, 60.0, 80.0)), ("bracken", 80.0)):
        ask(casebook, "curve", "add", name, write(tmp_path / "a.txt", level), "--gate", 4)
    told = ask(casebook, "curve", "show", "sallow", "--against", "bracken").stdout
    assert "from 250 to 10000 Hz they depart from a constant difference by at most 0.0 dB" in told


def test_a_splice_drops_gaps_where_the_curve_does_not_count() -> None:
    """The nearfield's gap above the join, the far field's below it: neither is of the whole."""
    near = Curve(HZ, 0 * HZ, gaps_hz=((1000.0, 2000.0),))
    far = Curve(HZ, 0 * HZ, gaps_hz=((40.0, 90.0), (5000.0, 9000.0)))
    assert splice.spliced(near, far, 300).curve.gaps_hz == ((5000.0, 9000.0),)
