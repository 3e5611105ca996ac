"""A table of many words in a picture of a fixed size: its type stays readable, and what is left out is told."""

from __future__ import annotations

import pytest

from audio.curves import frame, picture, statement_table

HOW = "(cv_1234: 1 m, 2.83 V, gate 6.0 ms, dB SPL, barn, 2026-05-02)"
RATED = (
    "the least is 4.2 ohm at 546 Hz, where a rating of 8 ohm asks for 6.4; it supports a rating of 5 ohm by 80 %, of "
    "the usual ratings 4, 6, 8 it supports 4"
)
SPANNED = (
    "from 167 to 20000 Hz, 1/6 octave, it spans 9.0 dB (lowest at 200 Hz, highest at 3000 Hz), where 6 dB are allowed "
)
FACTS = [
    ("nominal impedance: 8 ohm", "data sheet, page 2", RATED, "does not agree"),
    ("minimum impedance: 4.2 ohm", "data sheet, page 2", "the least is 4.2 ohm at 546 Hz", "agrees"),
    ("sensitivity: 87 dB 2.83 V/1 m", "maker's page", f"86.2 dB for 2.83 V at 1 m (300 to 3000 Hz) {HOW}", "agrees"),
    ("range: 45 Hz - 22 kHz ±3 dB", "maker's page", SPANNED + HOW, "does not agree"),
]
NUMBERS = [(f"number {place} of them", "20 Hz to 20 kHz, RMS, at 1 kHz and 0 dBFS", "-96.4 dB", "-95.9 dB")
           for place in range(7)]  # fmt: skip


def smallest_px(figure: object) -> float:
    """The type of 10 points, in pixels where the picture is 390 wide."""
    return float(10 / 72 * 390 / figure.get_figwidth())  # type: ignore[attr-defined]


def words_of(figure: object) -> str:
    return " ".join(text.get_text().replace("\n", " ") for text in figure.axes[0].texts)  # type: ignore[attr-defined]


@pytest.mark.parametrize(("rows", "bold"), [(FACTS, 1), (NUMBERS, 2)])
def test_type_can_be_read_on_a_telephone(rows: list[tuple[str, ...]], bold: int) -> None:
    made = statement_table.statements(("states", "how", "measured", "outcome"), rows, title="t", bold=bold, spare=(1,))
    figure = picture.dressed(made, picture.Look("1920x1080"))
    assert smallest_px(figure) >= 11
    shown = words_of(figure)
    assert all(row[-1] in shown and row[0] in shown for row in rows)  # no row is left out, nor what follows
    assert all(part in frame.CUT[figure] for row in rows for part in row)


def test_a_table_without_a_frame_keeps_all_its_words() -> None:
    made = statement_table.statements(("states", "how", "measured", "outcome"), FACTS, title="t", spare=(1,))
    figure = picture.dressed(made, picture.Look())
    assert all(part in words_of(figure) for row in FACTS for part in row)
    assert figure not in frame.CUT


def test_a_table_that_fits_its_frame_keeps_all_its_columns() -> None:
    made = statement_table.statements(("states", "how", "measured"), [("8 ohm", "sheet", "6 ohm")], spare=(1,))
    figure = picture.dressed(made, picture.Look("1920x1080"))
    assert "sheet" in words_of(figure)
    assert figure not in frame.CUT
