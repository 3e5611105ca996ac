"""A track drawn: what its words name is to be seen in it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio import track_picture
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
