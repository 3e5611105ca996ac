"""What belongs together stays together where words are broken into lines or cut."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from audio.curves import draw, picture, statement_table
from audio.curves.curve import Curve, log_grid
from audio.curves.picture import Look
from audio.curves.words import shortened, wrap

HZ = log_grid(20, 20_000, 12)
CAPTION = (
    "mean of the levels over seatings, ± one standard deviation; 2 m; gate 6 ms; measured 2026-05-02; not smoothed"
)

WIDE = Look("1920x1080")


def lines_of(figure: Any) -> list[str]:
    beside = [text.get_text() for legend in figure.legends for text in legend.get_texts()]
    caption = figure._supxlabel.get_text() if figure._supxlabel is not None else ""
    return [line for text in (*beside, caption, figure.axes[0].get_title(loc="left")) for line in text.split("\n")]


@pytest.mark.parametrize(
    "much", ["8 ms", "300 Hz", "83.8 dB SPL", "3.98 V", "6 ohm", "80 %", "± 3 dB", "10 kHz", "below 0", "half-tukey"]
)
def test_no_line_ends_within_what_belongs_together(much: str) -> None:
    for letters in range(max(len(much), len("there:")), 40):
        broken = wrap(f"so much was read there: {much} and some more words", letters)
        assert " ".join(broken) == f"so much was read there: {much} and some more words"
        assert any(much in line for line in broken)
        assert max(map(len, broken)) <= letters


def test_a_number_with_its_unit_that_is_wider_than_the_line_is_broken_all_the_same() -> None:
    assert wrap("83.8 dB SPL", 7) == ["83.8 dB", "SPL"]


def test_a_name_is_broken_at_its_hyphen_only_where_it_is_wider_than_the_line() -> None:
    assert wrap("sallow less sallow-late", 18) == ["sallow less", "sallow-late"]
    assert wrap("sallow-late", 8) == ["sallow-", "late"]


def test_a_legend_and_a_title_keep_numbers_with_their_units() -> None:
    curves = {name: Curve(HZ, 0 * HZ) for name in ("-24.0 dBFS, 2 V", "-18.0 dBFS, 3.98 V")}
    title = "squeezed: compression against -30.0 dBFS, 1 V"
    shown = lines_of(picture.dressed(draw.responses(curves, title=title), WIDE))
    assert not {"V", "dBFS, 1 V"} & {line.strip() for line in shown}


@pytest.mark.parametrize("letters", range(20, 100, 7))
def test_a_caption_is_cut_after_a_whole_part_or_at_least_a_whole_word(letters: int) -> None:
    cut = shortened(CAPTION, letters)
    assert len(cut) <= letters
    assert CAPTION.startswith(cut)
    assert CAPTION[len(cut)] in "; ,"
    assert not cut[-1].isspace()


def test_no_date_is_cut_in_a_picture() -> None:
    """Of a caption that is cut, the last word before the dots is one that was said whole, whatever its length."""
    steep = Curve(HZ, -12 * np.exp(-((np.log2(HZ / 1000) / 0.5) ** 2)), None, (167.0, 20_000.0))
    cut = 0
    for more in range(8):
        note = f"2 m; gate 6 ms, half-tukey; {'a' * more} measured 2026-05-02; 1/12-octave smoothing"
        figure = picture.dressed(draw.responses({"sallow": steep}, title="sallow, on axis", note=note), WIDE)
        for line in lines_of(figure):
            if "…" in line:
                cut += 1
                assert line.split("…")[0].split()[-1].strip(";,") in note.replace(";", " ").replace(",", " ").split()
    assert cut > 4


@pytest.mark.parametrize("away", range(1, 9))
def test_a_table_keeps_numbers_with_their_units(away: int) -> None:
    words = f"83.8 dB for 2.83 V at 1 m (curve-{'5' * away}: {away} m, 2.83 V, gate 8.0 ms, dB SPL, barn, 2026-11-26)"
    figure = picture.dressed(statement_table.statements(("states", "measured"), [("87 dB", words)] * 4), WIDE)
    lines = [line for text in figure.axes[0].texts for line in text.get_text().split("\n") if line]
    assert not {line.split()[0].strip("(),;:") for line in lines} & {"dB", "V", "m", "ms", "SPL"}
