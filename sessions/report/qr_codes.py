"""Codes for a camera, of what is to be filmed: pictures, or half blocks for a terminal. The only user of segno."""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from segno import QRCode

QUIET = 4  # modules of white around a code, as ISO/IEC 18004 asks for
BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def half_blocks(text: str) -> list[str]:
    """The code in rows of characters, two modules high each; what is drawn is dark, so draw it black on white."""
    rows = [[bool(module) for module in row] for row in _code(text).matrix_iter(border=QUIET)]
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    return ["".join(BLOCKS[pair] for pair in zip(*rows[at : at + 2], strict=True)) for at in range(0, len(rows), 2)]


def svg(text: str) -> str:
    """The code as a picture to stand in a page."""
    return str(_code(text).svg_inline(border=QUIET, dark="#000", light="#fff", omitsize=True))


def svg_file(text: str) -> bytes:
    """The code as a picture by itself."""
    found = io.BytesIO()
    _code(text).save(found, kind="svg", border=QUIET, dark="#000", light="#fff", omitsize=True)
    return found.getvalue()


def seal_text(seal: str, rule: object) -> str:
    """What the code of a seal says; in capitals, which makes it smaller."""
    return f"EARWITNESS SEAL {rule} {seal.upper()}"


def load() -> None:
    """Load what makes them, which takes longer than a code."""
    import segno  # noqa: F401


@lru_cache
def _code(text: str) -> QRCode:
    import segno

    return segno.make(text, error="m", micro=False)  # medium: a filmed screen loses little, and boosts where it can
