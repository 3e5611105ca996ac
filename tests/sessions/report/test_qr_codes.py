"""Codes as a camera sees them: read back by a decoder that knows nothing of ours."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest
import zxingcpp
from numpy.typing import NDArray

from sessions.report import qr_codes

HALVES = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}
CODE = "214-0F3A-91BC-77D2-05EE-S"
LONG = "9999999-0F3A-91BC-77D2-05EE-2"
SEAL = qr_codes.seal_text("0f" * 32, 2)


def seen(dark: NDArray[np.int_]) -> list[str]:
    """What a decoder reads from modules drawn eight pixels wide."""
    picture = 255 * (1 - np.kron(dark, np.ones((8, 8), dtype=int)))
    return [one.text for one in zxingcpp.read_barcodes(picture.astype(np.uint8))]


def modules(rows: list[str]) -> NDArray[np.int_]:
    return np.array([[HALVES[character][half] for character in row] for row in rows for half in (0, 1)])


@pytest.mark.parametrize("text", [CODE, LONG, SEAL])
def test_half_blocks_are_read_back(text: str) -> None:
    assert seen(modules(qr_codes.half_blocks(text))) == [text]


def test_the_code_of_an_end_leaves_room_for_words_on_a_small_terminal() -> None:
    for text in (CODE, LONG):
        rows = qr_codes.half_blocks(text)
        assert len(rows) <= 20
        assert len(rows[0]) <= 40


def test_the_picture_holds_the_same_modules() -> None:
    root = ElementTree.fromstring(qr_codes.svg(SEAL))
    drawn = modules(qr_codes.half_blocks(SEAL))
    width = float((root.get("viewBox") or "0 0 0 0").split()[2])
    assert width == len(drawn[0])
    assert root.get("width") is None  # the page says how large
