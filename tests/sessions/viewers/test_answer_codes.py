"""Answer codes: what goes in comes out of any text, one wrong letter is found, and nothing counts twice."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sessions.plans import answer_codes
from sessions.plans.answer_codes import LETTERS, Answered, collect

from . import planted

TEST = planted.document()
ONE = Answered(123_456, True, False, True, 3, 1999, (0, 1, 1, 0, 1, 0, 0, 1))
CODE = answer_codes.code(planted.TAG, 8, ONE)


@given(
    trials=st.integers(4, 12),
    drawn=st.integers(0, 2**24 - 1),
    flags=st.tuples(st.booleans(), st.booleans(), st.booleans()),
    device=st.integers(0, 4),
    data=st.data(),
)
def test_a_code_says_what_was_put_in(
    trials: int, drawn: int, flags: tuple[bool, bool, bool], device: int, data: st.DataObject
) -> None:
    test = planted.document(trials)
    order = data.draw(st.integers(1, test.orders))
    answers = tuple(data.draw(st.lists(st.integers(0, 1), min_size=trials, max_size=trials)))
    told = Answered(drawn, *flags, device, order, answers)
    found = collect([answer_codes.code(planted.TAG, trials, told)], test, planted.TAG)
    assert list(found.codes.values()) == [told]


@pytest.mark.parametrize(
    "pasted",
    [
        CODE,
        CODE.lower(),
        f"here it is:{CODE}!!! thanks",
        CODE.replace("-", " "),
        CODE.replace("-", ""),
        CODE.replace("-", "\N{EN DASH}"),
        CODE.replace("0", "O").replace("1-", "I-").replace("EWI", "EW1"),
        CODE[:18] + "\n" + CODE[18:],
        f'"17","2026-11-27 10:00","{CODE}","I liked it"\r\n',
        f"EW1-{CODE[4:12]}\n{CODE}",
    ],
)
def test_a_code_is_found_however_it_was_pasted(pasted: str) -> None:
    assert list(collect([pasted], TEST, planted.TAG).codes.values()) == [ONE]


def test_every_single_wrong_letter_and_every_exchange_of_neighbours_is_found() -> None:
    letters = CODE[4:].replace("-", "")
    wrong = [letters[:n] + other + letters[n + 1 :] for n in range(24) for other in LETTERS if other != letters[n]]
    wrong += [
        letters[:n] + letters[n + 1] + letters[n] + letters[n + 2 :] for n in range(23) if letters[n] != letters[n + 1]
    ]
    found = collect(["\n".join(f"EW1-{one}" for one in wrong)], TEST, planted.TAG)
    assert (len(found.codes), found.broken) == (0, len(wrong))


def test_what_is_left_out_is_counted_by_why() -> None:
    other = answer_codes.code(planted.TAG + 1, 8, ONE)
    shorter = answer_codes.code(planted.TAG, 6, Answered(1, False, False, False, 0, 5, (0,) * 6))
    twin = answer_codes.code(planted.TAG, 8, replace(ONE, drawn=7))
    prose = "about EW1 and ew1-codes: the crew1 went"
    texts = [f"{CODE} {CODE.lower()}", f"{other}\n{CODE[:20]}\n{shorter}\n{twin}", prose]
    found = collect(texts, TEST, planted.TAG)
    assert (len(found.codes), found.broken, found.repeated, found.of_others) == (2, 2, 1, 1)


def test_what_looks_like_a_code_inside_a_whole_one_is_none() -> None:
    """Base 32 has E, W and 1, so that some codes hold the prefix themselves."""
    drawn = (LETTERS.index("E") << 10 | LETTERS.index("W") << 5 | 1) << 7
    code = answer_codes.code(planted.TAG, 8, replace(ONE, drawn=drawn))
    assert "-EW1" in code[3:]
    found = collect([f"{code} and so on and on"], TEST, planted.TAG)
    assert (len(found.codes), found.broken) == (1, 0)
