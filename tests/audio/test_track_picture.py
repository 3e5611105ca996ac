"""A track drawn: what its words name is to be seen in it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio import surveys, track_picture
from audio.curves import picture
from audio.passages import Proposal, Survey
from audio.track_picture import LookedThrough

LENGTH_S = 60.0
NOTE = "Hatched: the recordings are out of step there"


def drawn(skipped_s: tuple[tuple[float, float], ...]) -> object:
    moments_s = np.arange(0, LENGTH_S, 0.5)
    survey = Survey(
        (Proposal(0, 480_000, 3.0, 30.0, True, ()),), moments_s, np.ones(120), np.zeros(120), skipped_s
    )  # fmt: skip
    return track_picture.tracks([LookedThrough("reel", survey, 0.0, 48_000)])


@pytest.mark.parametrize("skipped_s", [(20.0, 25.0), (20.0, 20.1), (0.0, 0.1), (59.9, 60.4)])
def test_what_is_out_of_step_is_hatched_so_that_it_is_seen(skipped_s: tuple[float, float]) -> None:
    figure = drawn((skipped_s,))
    (hatched,) = [part for axes in figure.axes for part in axes.patches if part.get_hatch()]  # type: ignore[attr-defined]
    begin_s, end_s = hatched.get_x(), hatched.get_x() + hatched.get_width()
    assert end_s - begin_s >= 0.01 * LENGTH_S - 1e-9
    assert begin_s >= 0
    assert end_s <= LENGTH_S
    assert begin_s <= sum(skipped_s) / 2 <= end_s + 0.3
    assert NOTE in picture.svg(figure)
    assert "or one is silent" in picture.svg(figure)


def test_hatching_is_seen_in_the_picture_itself(tmp_path: Path) -> None:
    from matplotlib import image

    seen = []
    for name, skipped_s in (("with", ((20.0, 20.1),)), ("without", ())):
        picture.write(drawn(skipped_s), tmp_path / f"{name}.png")
        seen.append(image.imread(tmp_path / f"{name}.png")[: 60 * 4])
    assert np.count_nonzero(np.any(seen[0] != seen[1], axis=2)) > 200


def test_nothing_is_called_hatched_where_nothing_is() -> None:
    figure = drawn(())
    assert not picture.is_hatched(figure)
    assert "Hatched" not in picture.svg(figure)


@pytest.mark.parametrize("skipped_s", [(10.0, 10.1), (10.0, 10.5), (9.9999999, 30.0)])
def test_hatching_does_not_run_into_a_passage_beside_it(skipped_s: tuple[float, float]) -> None:
    (hatched,) = [part for axes in drawn((skipped_s,)).axes for part in axes.patches if part.get_hatch()]  # type: ignore[attr-defined]
    assert hatched.get_x() >= 10.0 - 1e-5  # where the proposal ends
    assert hatched.get_x() + hatched.get_width() >= skipped_s[1] - 1e-9


def test_between_two_pieces_only_what_neither_holds_is_out_of_step() -> None:
    """It began at the last half second that the first piece was looked at, inside what is proposed of it."""
    moments_s = np.arange(0, 20.3, 0.5)
    flat = np.ones(len(moments_s))
    piece = Survey((Proposal(480_000, 490_000, 3.0, 30.0),), moments_s, flat, flat, ())
    frames = 970_000  # 20.208 s
    whole = surveys.joined([(0, frames, piece), (1_000_000, frames, piece)], 48_000, 1)
    assert whole.skipped_s == ((frames / 48_000, 1_000_000 / 48_000),)


def test_a_mark_that_no_passage_holds_is_called_so() -> None:
    marked = (Proposal(0, 480_000, 3.0, 30.0, telling=False, marks_s=(10.5,)), Proposal(480_000, 480_000, 3.0, 30.0))
    survey = Survey(marked, np.arange(0, LENGTH_S, 0.5), np.ones(120), np.zeros(120), ())
    said = picture.svg(track_picture.tracks([LookedThrough("reel", survey, 1.0, 48_000)]))
    assert "(nearest to your mark at 0:11.5)" in said


def test_the_kinds_of_passages_and_the_unit_are_explained() -> None:
    moments_s = np.arange(0, LENGTH_S, 0.5)
    both = (Proposal(0, 480_000, 3.0, 30.0), Proposal(960_000, 480_000, 2.0, 30.0, telling=False, marks_s=(25.0,)))
    survey = Survey(both, moments_s, np.ones(120), np.zeros(120), ())
    said = picture.svg(track_picture.tracks([LookedThrough("reel", survey, 0.0, 48_000)]))
    assert "shaded, with unbroken edges: chosen because they differ most" in said
    assert "white, with dashed edges: around a mark of yours" in said
    assert "how loud something is to the ear" in said
    assert "dashed" not in picture.svg(drawn(()))
