"""Codes of ends: what they say, what they forgive, and what a slip of the pen gives."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from sessions.casebook import chain_ends
from sessions.casebook.chain_ends import CHARACTERS, End, EndCode
from sessions.errors import CasebookError

HASH = "0f3a91bc77d205ee" + "a" * 48
CODE = "214-0F3A-91BC-77D2-05EE-S"  # its last character by python-stdnum 2.2

ends = st.builds(
    lambda rows, digest: End(rows, digest),
    st.integers(1, 10**7),
    st.text("0123456789abcdef", min_size=64, max_size=64),
)


def test_a_code_is_the_rows_the_first_digits_and_a_check_character() -> None:
    assert str(End(214, HASH).code) == CODE
    assert mod_37_36.is_valid(CODE.replace("-", ""))


@given(st.text(CHARACTERS, min_size=1, max_size=30))
def test_the_check_character_is_that_of_iso_7064(text: str) -> None:
    assert chain_ends.check_character(text) == mod_37_36.calc_check_digit(text)


@given(ends)
def test_a_code_is_read_back(end: End) -> None:
    assert chain_ends.parse(str(end.code)) == end.code
    assert end.code.fits(end.hash)
    assert not end.code.fits("f" * 64) or end.hash.startswith("f" * 16)


@pytest.mark.parametrize(
    "typed",
    [
        CODE.lower(),
        CODE.replace("-", ""),
        CODE.replace("-", " "),
        f"  {CODE}\n",
        "214 – 0f3a 91bc—77d2 05ee s",
        "2140F3A-91BC77D2-05EES",
    ],
)
def test_case_spaces_and_hyphens_are_forgiven(typed: str) -> None:
    assert chain_ends.parse(typed) == EndCode(214, "0F3A91BC77D205EE")


def test_every_single_wrong_character_is_found_and_called_mistyped() -> None:
    for place, right in enumerate(CODE):
        for wrong in CHARACTERS if right != "-" else ():
            if wrong != right:
                with pytest.raises(CasebookError, match="mistyped"):
                    chain_ends.parse(CODE[:place] + wrong + CODE[place + 1 :])


@pytest.mark.parametrize("typed", ["", "214", CODE[:-2], CODE + "X", CODE + " posted", "evening", "a" * 64])
def test_what_is_no_code_is_said_to_be_none(typed: str) -> None:
    with pytest.raises(CasebookError, match="mistyped"):
        chain_ends.parse(typed)


def test_a_line_begins_with_a_code_and_may_say_more() -> None:
    for line in (f"{CODE} 2026-11-26, by e-mail", f"{CODE}, 2026-11-26, by e-mail", f"{CODE}\t2026-11-26, by e-mail"):
        assert chain_ends.parse_first(line) == (EndCode(214, "0F3A91BC77D205EE"), "2026-11-26, by e-mail")
